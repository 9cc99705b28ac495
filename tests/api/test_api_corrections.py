"""Typos are mended by whoever owns the row, on the state that was read, and the trail keeps what stood there before."""

from functools import partial

import pytest
from rest_framework.test import APIClient

from fleet.accounts.models import Change
from fleet.accounts.policy import SERVICE
from fleet.events.actions import add_layout
from fleet.garage.actions import add_instrument
from fleet.inventory.actions import take_wheels_in
from tests.racing import at_once

# Who mends what of Robin's, Tarn's or Longfield's, and who sees it and may not.
CASES = {
    "riders": ("rider_person", {"name": "Robin Dale", "contact": "tent 4"}, "fitter"),
    "bikes": ("rider_person", {"description": "600 sport", "rake_deg": 24.0, "front_rim_in": None}, "fitter"),
    "wheel-pairs": ("rider_person", {"name": "wet"}, "fitter"),
    "instruments": ("fitter", {"name": "Dial 2", "offset_kpa": 3.5, "compared_on": "2026-05-01"}, None),
    "events": ("crew", {"name": "Longfield June Day"}, "inspector"),
    "days": ("crew", {"layout": "layout_also"}, "inspector"),
    "groups": ("crew", {"name": "Quick", "usual_lap_s": 110.0}, "inspector"),
    "slots": ("crew", {"ends_at": "2026-06-12T11:55:00Z"}, "inspector"),
    "entries": ("crew", {"number": "28", "uses_warmers": True}, "inspector"),
    "tickets": ("fitter", {"wish": "front only", "promised_at": "2026-06-12T12:30:00Z"}, "rider_person"),
}


@pytest.fixture
def rows(request, rider, bike, wheel_pair, event, day, group, slot, entry, tarn, now):
    """One row of each noun that can be mended, by the name of its resource."""
    gauge = add_instrument(by=SERVICE, code="dial", name="Dial", kind="pressure", organisation=tarn)
    return {
        "riders": rider,
        "bikes": bike,
        "wheel-pairs": wheel_pair,
        "instruments": gauge,
        "events": event,
        "days": day,
        "groups": group,
        "slots": slot,
        "entries": entry,
        "tickets": take_wheels_in(
            by=SERVICE, at=now, vendor=tarn, wheel_pair=wheel_pair, opened_on=now.date()
        ),
    }


@pytest.fixture
def layout_also(track):
    return add_layout(by=SERVICE, track=track, code="marram-point-short", name="Short", length_km=2.2)


@pytest.fixture
def case(request, rows, layout_also):
    def build(noun):
        who, body, other = CASES[noun]
        sent = {name: str(layout_also.pk) if said == "layout_also" else said for name, said in body.items()}
        asker = request.getfixturevalue(who)
        return f"/api/v1/{noun}/{rows[noun].pk}", asker, sent, other

    return build


@pytest.mark.parametrize("noun", CASES)
def test_the_owner_mends_a_row_on_the_state_that_was_read(ask, case, rows, noun):
    address, asker, body, _ = case(noun)
    client = ask(asker)
    before = client.get(address)

    mended = client.patch(address, body, HTTP_IF_MATCH=before["ETag"])
    late = client.patch(address, body, HTTP_IF_MATCH=before["ETag"])
    bare = client.patch(address, body)

    assert [answer.status_code for answer in (mended, late, bare)] == [200, 412, 428], mended.content
    assert {name: mended.json()[name] for name in body} == body
    line = Change.objects.get(row=rows[noun].pk, what="corrected")
    assert line.by == asker
    assert set(line.before) == set(line.after) == set(body)
    assert {name: before.json()[name] for name in body}.keys() == line.before.keys()
    assert all(line.before[name] != line.after[name] for name in body)


@pytest.mark.parametrize("noun", CASES)
def test_a_correction_sent_twice_under_one_key_is_one_line(ask, case, rows, noun):
    address, asker, body, _ = case(noun)
    client = ask(asker)
    extra = {"HTTP_IF_MATCH": client.get(address)["ETag"], "HTTP_IDEMPOTENCY_KEY": "k-1"}

    first, again = (client.patch(address, body, **extra) for _ in range(2))

    assert (first.status_code, again.status_code) == (200, 200)
    assert (again["Idempotency-Replayed"], again.json()) == ("true", first.json())
    assert Change.objects.filter(row=rows[noun].pk, what="corrected").count() == 1


@pytest.mark.parametrize("noun", CASES)
def test_the_same_values_again_leave_no_line(ask, case, rows, noun):
    address, asker, body, _ = case(noun)
    client = ask(asker)

    for _ in range(2):
        assert client.patch(address, body, HTTP_IF_MATCH="*").status_code == 200

    assert Change.objects.filter(row=rows[noun].pk, what="corrected").count() == 1


@pytest.mark.parametrize("noun", CASES)
def test_a_stranger_finds_nothing_to_mend(ask, case, rows, stranger, noun):
    address, _, body, _ = case(noun)

    answer = ask(stranger).patch(address, body, HTTP_IF_MATCH="*")

    assert answer.status_code == 404
    assert not Change.objects.filter(what="corrected").exists()


@pytest.mark.parametrize("noun", [noun for noun, case in CASES.items() if case[2]])
def test_somebody_who_sees_it_with_too_small_a_role_is_told_so(request, ask, case, noun):
    address, _, body, other = case(noun)

    answer = ask(request.getfixturevalue(other)).patch(address, body, HTTP_IF_MATCH="*")

    assert (answer.status_code, answer.json()["code"]) == (403, "not-allowed")
    assert not Change.objects.filter(what="corrected").exists()


@pytest.mark.parametrize("noun", CASES)
def test_codes_owners_and_unknown_keys_stay_as_they_are(ask, case, noun):
    address, asker, _, _ = case(noun)

    for body in ({"code": "another"}, {"rider": None}, {"organiser": None}, {}):
        answer = ask(asker).patch(address, body, HTTP_IF_MATCH="*")

        assert (answer.status_code, answer.json()["code"]) == (422, "invalid"), body


def test_a_value_that_cannot_be_right_is_refused_at_its_field(ask, case):
    address, asker, _, _ = case("bikes")

    answer = ask(asker).patch(address, {"rake_deg": 200.0}, HTTP_IF_MATCH="*")

    assert (answer.status_code, set(answer.json()["errors"])) == (422, {"rake_deg"})


@pytest.mark.postgres
@pytest.mark.django_db(transaction=True)
def test_of_five_corrections_of_one_state_one_is_made_and_told(rider_person, bike):
    clients = [APIClient() for _ in range(5)]
    for client in clients:
        client.force_login(rider_person)
    address = f"/api/v1/bikes/{bike.pk}"
    etag = clients[0].get(address)["ETag"]

    answers = at_once(
        *(
            partial(client.patch, address, {"rake_deg": 20.0 + number}, HTTP_IF_MATCH=etag)
            for number, client in enumerate(clients)
        )
    )

    assert sorted(answer.status_code for answer in answers) == [200, 412, 412, 412, 412]
    won = next(answer.json() for answer in answers if answer.status_code == 200)
    line = Change.objects.get(row=bike.pk, what="corrected")
    assert (line.before, line.after) == ({"rake_deg": None}, {"rake_deg": won["rake_deg"]})
