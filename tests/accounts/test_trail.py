"""Every action that writes a noun leaves a line in the trail: who, for whom, what it was and what it is."""

import ast
import importlib
from pathlib import Path

import pytest

from fleet.accounts.actions import choose_units, make_key, revoke_key, use_key
from fleet.accounts.models import Change
from fleet.accounts.policy import SERVICE
from fleet.garage.actions import add_bike, add_wheel_pair, share, take_back, use_wheel_pair
from fleet.inventory.actions import advance_ticket, take_wheels_in
from fleet.records import Fact

ROOT = Path(__file__).parent.parent.parent
WRITERS = {"store", "save_changes", "update", "create", "bulk_create", "delete", "save"}
TRACES = {"note", "note_made", "correct"}
# Writes without a line, and why.
UNTRACED = {
    "accounts.use_key": "the day a key was last used on is told with the key itself",
    "accounts._end_visits": "a visit is no noun; its end is told by the erasure it belongs to",
    "accounts._store": "the caller notes it: only it knows who acts",
    "inventory._from_stock": "the tire leaves its lot with a fitting, a fact with its author",
    "inventory.accept_tire": "_give tells each of the two riders by itself",
    "inventory.hand_over": "_give tells each of the two riders by itself",
    "inventory.remove_tire": "the end of a fitting is the removal, a fact with its author",
    "inventory.void_removal": "the removal carries who voided it",
    "running.void_stint": "the readings carry who voided them",
    "notices.tell": "a message is told by the service, and read by nobody else",
    "notices.mark_read": "a message is read by the one it was told to",
    "operating.run_job": "the state of a job is no noun of anybody's",
    "photos.keep_photo": "a photo belongs to the fact that points to it, which has its author",
    "photos.forget_photos": "the erasure or the fact a photo belonged to tells it",
    "replies.claim_key": "a claim belongs to a request and is swept after two days",
    "replies.keep_answer": "an answer belongs to a request and is swept after two days",
    "replies.release_key": "a claim belongs to a request and is swept after two days",
    "replies._claimed": "a claim belongs to a request and is swept after two days",
}


def action_files():
    found = [*ROOT.glob("fleet/*/actions.py"), *ROOT.glob("fleet/*/actions/*.py")]
    return sorted(path for path in found if path.parts[-2] not in {"demo", "exchange"})


def functions():
    """Yield every function of every action file with its subject and the module it stands in."""
    for path in action_files():
        name = ".".join(path.relative_to(ROOT).with_suffix("").parts)
        module = importlib.import_module(name.removesuffix(".__init__"))
        for node in ast.parse(path.read_text(encoding="utf-8")).body:
            if isinstance(node, ast.FunctionDef):
                yield name.split(".")[1], module, node


def called(node):
    """Yield the name and the node of every call within a function."""
    for one in ast.walk(node):
        if isinstance(one, ast.Call):
            name = one.func.attr if isinstance(one.func, ast.Attribute) else getattr(one.func, "id", "")
            yield name, one


def is_of_a_fact(call, module, facts):
    """Return whether a call stores a fact: ``store(Fitting(...))``, or ``store(reading)`` with it made before."""
    if not call.args:
        return False
    given = call.args[0]
    name = given.func.id if isinstance(given, ast.Call) and isinstance(given.func, ast.Name) else ""
    made = getattr(module, name, None)
    return (isinstance(made, type) and issubclass(made, Fact)) or getattr(given, "id", "") in facts


def facts_in(node, module):
    """Name the variables that hold a new fact."""
    return {
        one.targets[0].id
        for one in ast.walk(node)
        if isinstance(one, ast.Assign) and isinstance(one.value, ast.Call)
        if isinstance(one.targets[0], ast.Name) and isinstance(one.value.func, ast.Name)
        if isinstance(made := getattr(module, one.value.func.id, None), type) and issubclass(made, Fact)
    }


def writes(node, module):
    facts = facts_in(node, module)
    return any(name in WRITERS and not is_of_a_fact(call, module, facts) for name, call in called(node))


def traces(node):
    return any(name in TRACES for name, _ in called(node))


def is_atomic(node):
    shown = [ast.unparse(one) for one in node.decorator_list]
    within = [ast.unparse(item) for one in ast.walk(node) if isinstance(one, ast.With) for item in one.items]
    return "transaction.atomic" in shown or "transaction.atomic()" in within


def test_every_action_that_writes_a_row_notes_it_or_says_why_not():
    silent = {
        f"{subject}.{node.name}"
        for subject, module, node in functions()
        if writes(node, module) and not traces(node)
    }

    assert silent == set(UNTRACED)


def test_every_line_is_written_in_the_transaction_of_what_it_tells():
    loose = [
        f"{subject}.{node.name}"
        for subject, _, node in functions()
        if traces(node) and not node.name.startswith("_") and not is_atomic(node)
    ]

    assert len(list(functions())) > 80
    assert loose == []


def test_a_bike_added_by_the_crew_tells_who_and_for_whom(fitter, rider, tarn):
    bike = add_bike(by=fitter, rider=rider, code="b-7", description="600 sport", rake_deg=23.5)

    line = Change.objects.get(row=bike.pk)
    assert (line.by, line.on_behalf_of, line.organisation, line.rider) == (fitter, tarn, tarn, rider.pk)
    assert (line.what, line.noun, line.api_key, line.before) == ("made", "bike", None, {})
    assert line.after == {
        "rider": str(rider.pk),
        "code": "b-7",
        "description": "600 sport",
        "rake_deg": 23.5,
    }


def test_what_riders_do_themselves_rests_on_no_organisation(rider_person, rider):
    bike = add_bike(by=rider_person, rider=rider, code="b-7", description="600 sport")

    line = Change.objects.get(row=bike.pk)
    assert (line.by, line.on_behalf_of, line.organisation) == (rider_person, None, None)


def test_what_the_service_does_names_nobody(rider):
    line = Change.objects.get(row=rider.pk)

    assert (line.by, line.on_behalf_of, line.what) == (None, None, "made")


def test_both_pairs_tell_when_one_takes_the_place_of_the_other(rider_person, bike, wheel_pair):
    wet = add_wheel_pair(by=SERVICE, bike=bike, code="w-2", name="wet", is_in_use=False)

    use_wheel_pair(by=rider_person, wheel_pair=wet)

    told = Change.objects.filter(by=rider_person).order_by("what")
    assert [(line.what, line.row) for line in told] == [
        ("put_aside", wheel_pair.pk),
        ("taken_into_use", wet.pk),
    ]


def test_a_ticket_tells_its_state_before_and_after(fitter, tarn, wheel_pair, now):
    ticket = take_wheels_in(by=fitter, at=now, vendor=tarn, wheel_pair=wheel_pair, opened_on=now.date())

    advance_ticket(by=fitter, ticket=ticket, state="ready")
    advance_ticket(by=fitter, ticket=ticket, state="ready")

    line = Change.objects.get(row=ticket.pk, what="moved")
    assert (line.before, line.after) == ({"state": "waiting"}, {"state": "ready"})


def test_a_sharing_tells_both_sides_when_it_begins_and_ends(rider_person, rider, longfield, now):
    given = share(by=rider_person, rider=rider, organisation=longfield, scope="stints", at=now)

    for _ in range(2):
        take_back(by=rider_person, sharing=given, at=now)

    told = Change.objects.filter(row=given.pk).order_by("what")
    assert [(line.what, line.rider, line.organisation) for line in told] == [
        ("granted", rider.pk, longfield),
        ("taken_back", rider.pk, longfield),
    ]


def test_a_key_is_named_beside_what_was_done_with_it(rider_person, rider, now):
    key, token = make_key(by=rider_person, at=now, name="van", scopes=["write_garage"])
    found = use_key(token=token, at=now)
    found.person.used_key = found

    bike = add_bike(by=found.person, rider=rider, code="b-7", description="600 sport")

    line = Change.objects.get(row=bike.pk)
    assert (line.by, line.api_key) == (rider_person, key)


def test_a_key_tells_its_making_and_its_end_and_no_secret(rider_person, now):
    key, _ = make_key(by=rider_person, at=now, name="van", scopes=["read"])

    revoke_key(by=rider_person, at=now, api_key=key)
    revoke_key(by=rider_person, at=now, api_key=key)

    told = list(Change.objects.filter(row=key.pk).order_by("what"))
    assert [line.what for line in told] == ["made", "revoked"]
    assert set(told[0].after) == {"name", "scopes", "expires_at", "person"}
    assert key.digest not in str(told[0].after)


def test_units_chosen_once_more_as_they_are_leave_no_line(rider_person):
    units = {"pressure_unit": "bar", "temperature_unit": "C", "depth_unit": "mm", "distance_unit": "km"}

    for _ in range(2):
        choose_units(by=rider_person, **units)

    line = Change.objects.get(what="corrected")
    assert (line.before, line.after) == ({"pressure_unit": "psi"}, {"pressure_unit": "bar"})


@pytest.mark.parametrize("secret", ["password", "digest", "prefix", "public_code"])
def test_no_line_repeats_a_secret(secret, director, day, entry, rider_person, now):
    make_key(by=director, at=now, name="scale", scopes=["read"])

    assert Change.objects.count() > 5
    assert [line.after for line in Change.objects.all() if secret in line.after] == []
