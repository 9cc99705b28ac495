"""Programs with a key: whom it acts as, what its scopes open, and how one that does not work is refused.

The header and its challenge: RFC 6750, sections 2.1 and 3; problem details: RFC 9457.
"""

from datetime import timedelta

import pytest
from allauth.mfa.models import Authenticator
from rest_framework.test import APIClient

from api.permissions import VERB_SCOPES, WRITE_SCOPES, scope_wanted
from api.v1.urls import urlpatterns
from fleet.accounts.actions import make_key, make_organisation_key, revoke_key
from fleet.accounts.models import ApiKey, Membership, Person, Role, Scope
from fleet.garage.models import Rider
from fleet.inventory.models import StockMovement
from fleet.running.models import Stint

NEVER = "fleet_" + "0" * 10 + "_" + "A" * 43
UNITS = {"pressure_unit": "bar", "temperature_unit": "C", "depth_unit": "mm", "distance_unit": "km"}


@pytest.fixture
def program(db):
    """Return a client that sends a token with every request, and checks for CSRF as a browser's would be."""

    def send(token, scheme="Bearer"):
        client = APIClient(enforce_csrf_checks=True)
        client.credentials(HTTP_AUTHORIZATION=f"{scheme} {token}")
        return client

    return send


@pytest.fixture
def key_of(now):
    """Return a new key of a person with some scopes, or with all of them."""

    def made(person, *scopes, **said):
        return make_key(by=person, at=now, name="script", scopes=scopes or Scope.values, **said)

    return made


@pytest.fixture
def till(stock_manager, tarn, now):
    """Tarn's own key with a stock manager's role and every scope."""
    return make_organisation_key(
        by=stock_manager,
        at=now,
        organisation=tarn,
        role=Role.STOCK_MANAGER,
        name="till",
        scopes=Scope.values,
    )


def refused_with(answer):
    return answer.status_code, answer.json()["code"], answer["WWW-Authenticate"]


def sale_of(lot):
    return {
        "lot": str(lot.pk),
        "kind": "sold",
        "place": "trailer",
        "quantity": -1,
        "moved_at": "2026-06-12T09:00:00Z",
    }


def writes():
    """Yield every write of version 1: noun, verb, address, the scope it wants."""
    for pattern in urlpatterns:
        for method, verb in getattr(pattern.callback, "actions", {}).items():
            if method not in {"get", "head"}:
                view = pattern.callback.cls(**{**pattern.callback.initkwargs, "action": verb})
                address = f"/api/v1/{pattern.pattern}".replace("^", "").removesuffix("$").removesuffix("\\Z")
                yield view.basename, verb, address, scope_wanted(view, method.upper())


@pytest.mark.parametrize("scheme", ["Bearer", "bearer", "BEARER"])
def test_a_persons_key_reads_as_that_person(program, key_of, rider, scheme):
    _, token = key_of(rider.person, "read")

    answer = program(token, scheme).get("/api/v1/me")

    assert (answer.status_code, answer.json()["email"]) == (200, "robin@example.org")


def test_a_key_writes_without_a_csrf_token_and_a_session_beside_it_is_not_asked(
    program, key_of, rider_person, stranger
):
    client = program(key_of(rider_person)[1])
    client.force_login(stranger)

    answer = client.put("/api/v1/me/units", UNITS, HTTP_IF_MATCH="*")

    assert (answer.status_code, answer.json()["email"]) == (200, "robin@example.org")
    rider_person.refresh_from_db()
    stranger.refresh_from_db()
    assert (rider_person.pressure_unit, stranger.pressure_unit) == ("bar", "psi")


def test_a_session_still_needs_its_csrf_token(rider_person):
    client = APIClient(enforce_csrf_checks=True)
    client.force_login(rider_person)

    answer = client.put("/api/v1/me/units", UNITS)

    assert (answer.status_code, answer.json()["code"]) == (403, "csrf-failed")


def test_a_key_that_does_not_work_is_refused_even_beside_a_session(program, rider_person):
    client = program(NEVER)
    client.force_login(rider_person)

    assert client.get("/api/v1/me").status_code == 401


def test_every_way_not_to_work_is_refused_in_the_same_words(program, key_of, rider_person, now):
    revoked, revoked_token = key_of(rider_person)
    revoke_key(by=rider_person, at=now, api_key=revoked)
    ended, ended_token = key_of(rider_person, expires_at=now + timedelta(hours=1))
    ApiKey.objects.filter(pk=ended.pk).update(made_at=now - timedelta(days=2), expires_at=now)
    _, whole = key_of(rider_person)
    tokens = [revoked_token, ended_token, NEVER, whole[:-1], "", "a b", "fleet_", "\u00e9" * 59, "x" * 5000]

    answers = [program(token).get("/api/v1/me") for token in tokens]

    challenge = 'Bearer realm="api", error="invalid_token"'
    assert {refused_with(answer) for answer in answers} == {(401, "key-refused", challenge)}
    assert len({answer.content for answer in answers}) == 1
    assert {answer["Content-Type"] for answer in answers} == {"application/problem+json"}


def test_another_scheme_is_nobody(program, key_of, rider_person):
    answer = program(key_of(rider_person)[1], "Token").get("/api/v1/me")

    assert refused_with(answer) == (401, "not-signed-in", 'Bearer realm="api"')


def test_a_key_ends_with_its_person(program, key_of, rider_person):
    client = program(key_of(rider_person)[1])
    assert client.get("/api/v1/me").status_code == 200

    Person.objects.filter(pk=rider_person.pk).update(is_active=False)

    assert client.get("/api/v1/me").status_code == 401


def test_a_key_is_no_way_around_the_second_factor_a_role_needs(
    program, key_of, till, rider, stock_manager, settings
):
    settings.STAFF_SECOND_FACTOR = True
    riders, managers, organisations = (
        program(token) for token in (key_of(rider.person)[1], key_of(stock_manager)[1], till[1])
    )

    without = [client.get("/api/v1/me").status_code for client in (riders, managers, organisations)]
    Authenticator.objects.create(user=stock_manager, type=Authenticator.Type.TOTP, data={})
    with_it = [client.get("/api/v1/me").status_code for client in (riders, managers, organisations)]

    assert (without, with_it) == ([200, 401, 401], [200, 200, 200])


def test_a_key_loses_at_once_what_its_person_loses(program, key_of, stock_manager, rear_lot):
    client = program(key_of(stock_manager)[1])
    sale = sale_of(rear_lot)
    before = client.post("/api/v1/movements", sale)

    Membership.objects.filter(person=stock_manager).update(role=Role.FITTER)
    as_fitter = client.post("/api/v1/movements", sale)
    Membership.objects.filter(person=stock_manager).delete()
    as_stranger = client.post("/api/v1/movements", sale)

    assert [answer.status_code for answer in (before, as_fitter, as_stranger)] == [201, 403, 422]
    assert as_fitter.json()["code"] == "not-allowed"


def test_every_write_has_a_scope_and_every_scope_a_write():
    wanted = {(noun, verb): scope for noun, verb, _, scope in writes()}

    # A program that revokes keys could shut out the people who look after it.
    assert [name for name, scope in wanted.items() if scope is None] == [("key", "revoke")]
    assert set(wanted.values()) - {None} == set(Scope) - {Scope.READ}
    assert set(WRITE_SCOPES) == {noun for noun, _ in wanted} - {"key"}
    assert set(VERB_SCOPES) <= set(wanted)
    # Typed from the names of the verbs: what is issued or taken back for all to see.
    public = {("day", "bulletins"), ("bulletin", "withdraw")}
    assert {name for name, scope in wanted.items() if scope is Scope.ISSUE_BULLETINS} == public


def test_a_key_with_all_scopes_but_the_one_wanted_is_told_which_it_lacks(program, key_of, world, director):
    clients = {
        scope: program(key_of(director, *(other for other in Scope if other is not scope))[1])
        for scope in Scope
    }
    creates = [(address, wanted) for _, verb, address, wanted in writes() if verb == "create"]

    for address, wanted in creates:
        answer = clients[wanted].post(address, {})

        challenge = f'Bearer realm="api", error="insufficient_scope", scope="{wanted.value}"'
        assert refused_with(answer) == (403, "scope-too-small", challenge), address
        assert wanted.value in answer.json()["detail"]
    assert len(creates) > 15


def test_a_scope_is_asked_before_the_row_so_that_a_key_learns_nothing(program, key_of, world, stranger):
    client = program(key_of(stranger, "write_facts")[1])

    there = client.get(f"/api/v1/lots/{world.rows['lot'].pk}")
    never = client.get("/api/v1/lots/00000000-0000-4000-8000-000000000000")

    assert there.status_code == 403
    assert there.content == never.content


def test_a_key_to_read_writes_nothing_and_a_key_to_write_reads_nothing(
    program, key_of, rider_person, wheel_pair, fitted
):
    reader, writer = (program(key_of(rider_person, scope)[1]) for scope in ("read", "write_facts"))
    body = {
        "wheel_pair": str(wheel_pair.pk),
        "started_at": "2026-06-12T09:00:00Z",
        "ended_at": "2026-06-12T09:20:00Z",
        "distance_km": 20,
    }

    refused = reader.post("/api/v1/stints", body)
    hidden = writer.get("/api/v1/stints")
    assert not Stint.objects.exists()
    stored = writer.post("/api/v1/stints", body)

    assert (refused.status_code, hidden.status_code, stored.status_code) == (403, 403, 201)
    assert reader.get(f"/api/v1/stints/{stored.json()['id']}").json()["recorded_by"] == str(rider_person.pk)


def test_issuing_a_bulletin_wants_more_than_planning(program, key_of, world, director):
    day = world.rows["day"]
    planner, issuer = (program(key_of(director, scope)[1]) for scope in ("write_events", "issue_bulletins"))

    assert planner.post(f"/api/v1/days/{day.pk}/draft").status_code == 201
    assert planner.post(f"/api/v1/days/{day.pk}/bulletins").json()["code"] == "scope-too-small"
    assert issuer.post(f"/api/v1/days/{day.pk}/draft").json()["code"] == "scope-too-small"
    assert issuer.post(f"/api/v1/days/{day.pk}/bulletins").status_code == 201


def test_scopes_add_nothing_to_the_role(program, key_of, crew, world):
    client = program(key_of(crew)[1])

    answer = client.post(f"/api/v1/bulletins/{world.rows['bulletin'].pk}/withdraw", {"reason": "wrong air"})

    assert (answer.status_code, answer.json()["code"]) == (403, "not-allowed")


def test_a_method_an_address_does_not_have_stays_405(program, key_of, rider_person):
    client = program(key_of(rider_person, "read")[1])

    assert client.delete("/api/v1/riders").status_code == 405
    assert client.post("/api/v1/assessments", {}).status_code == 405


def test_what_is_public_stays_public_whatever_is_sent(program, world):
    code = world.rows["day"].public_code

    assert program(NEVER).get(f"/api/v1/public/bulletins/{code}").status_code == 200


def test_an_organisations_key_works_for_the_organisation_under_its_own_name(program, till, rear_lot):
    key, token = till
    client = program(token)

    moved = client.post("/api/v1/movements", sale_of(rear_lot))
    me = client.get("/api/v1/me").json()

    assert moved.status_code == 201
    assert StockMovement.objects.get(kind="sold").recorded_by == key.person
    assert (me["name"], me["rider"], [role["role"] for role in me["roles"]]) == (
        "till",
        None,
        ["stock_manager"],
    )


def test_an_organisations_key_sees_nothing_that_its_maker_owns(
    program, key_of, till, stock_manager, other_rider
):
    Rider.objects.filter(pk=other_rider.pk).update(person=stock_manager)
    address = f"/api/v1/riders/{other_rider.pk}"

    assert program(key_of(stock_manager)[1]).get(address).status_code == 200
    assert program(till[1]).get(address).status_code == 404


def test_an_organisations_key_finds_nothing_of_another(program, till, world, breckside, stranger):
    client = program(till[1])

    seen = client.get("/api/v1/lots").json()["results"]
    theirs = client.get(f"/api/v1/organisations/{breckside.pk}")

    assert {lot["vendor"] for lot in seen} == {str(till[0].organisation_id)}
    assert theirs.status_code == 404


def test_a_request_with_a_key_costs_one_query_more_than_none(
    program, key_of, rider, django_assert_num_queries, ask
):
    _, token = key_of(rider.person)
    client = program(token)
    client.get("/api/v1/lines")  # the first use of the day is noted
    signed_in = ask(rider.person)

    with django_assert_num_queries(3):
        signed_in.get("/api/v1/lines")  # session, person, rows
    with django_assert_num_queries(2):
        client.get("/api/v1/lines")  # key with person, rows
