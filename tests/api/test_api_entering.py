"""Entries over HTTP: walk-ins of an organiser, riders who agreed, and riders who enter themselves."""

from datetime import timedelta

import pytest

from fleet.accounts.policy import SERVICE
from fleet.events.actions import add_day, add_group, enter, plan_event
from fleet.garage.actions import add_bike, share


@pytest.fixture
def saturday(longfield, layout, now):
    """A day of an event that takes entries."""
    event = plan_event(by=SERVICE, organiser=longfield, code="open", name="Open Saturday", takes_entries=True)
    add_group(by=SERVICE, event=event, name="Slow")
    return add_day(by=SERVICE, event=event, date=now.date() + timedelta(days=1), layout=layout)


@pytest.fixture
def form(saturday, bike):
    group = saturday.event.groups.get()
    return {"day": str(saturday.pk), "bike": str(bike.pk), "group": str(group.pk), "number": "27"}


def listed(client, address):
    return {row["id"] for row in client.get(f"/api/v1/{address}").json()["results"]}


def test_the_crew_registers_a_walk_in_with_a_bike_and_wheels_and_enters_them(
    ask, crew, inspector, fitter, longfield, form
):
    client = ask(crew)

    def made(address, **body):
        answer = client.post(f"/api/v1/{address}", body, format="json")
        assert answer.status_code == 201, answer.json()
        return answer.json()["id"]

    rider = made("riders", code="r-9", name="Wil Stroud", contact="gate 2", registered_with=str(longfield.pk))
    bike = made("bikes", rider=rider, code="b-9", description="600 sport")
    pair = made("wheel-pairs", bike=bike, code="w-9", name="dry")
    made("entries", **form | {"bike": bike})

    assert listed(client, "riders") == {rider}
    assert (listed(client, "bikes"), listed(client, "wheel-pairs")) == ({bike}, {pair})
    assert not any(rider in listed(ask(other), "riders") for other in (inspector, fitter))


def test_a_walk_in_opens_no_more_to_the_crew_than_an_entrant(ask, crew, rider, longfield, world):
    """Robin's tires, stints and readings, were Robin a walk-in of Longfield's whose entries are long over."""
    rider.entries.all().delete()
    type(rider).objects.filter(pk=rider.pk).update(person=None, registered_with=longfield)
    client = ask(crew)

    assert listed(client, "riders") == {str(rider.pk)}
    for noun in [
        "tires",
        "fittings",
        "tickets",
        "assessments",
        "flags",
        "holds",
        "treads",
        "temperatures",
        "shapes",
        "stints",
        "feel-notes",
    ]:
        assert listed(client, noun) == set(), noun


def test_a_rider_who_has_not_agreed_is_not_entered_and_the_crew_is_told_what_would_be_right(
    ask, crew, longfield, rider, entry, form, now
):
    refused = ask(crew).post("/api/v1/entries", form, format="json")
    share(by=rider.person, rider=rider, organisation=longfield, scope="stints", at=now)
    taken = ask(crew).post("/api/v1/entries", form, format="json")

    assert (refused.status_code, refused.json()["code"]) == (403, "needs-consent")
    assert "ask the rider to enter themselves" in refused.json()["detail"]
    assert taken.status_code == 201


def test_a_rider_finds_an_open_event_enters_and_leaves(ask, rider, form, saturday):
    client = ask(rider.person)
    found = client.get("/api/v1/events?takes_entries=true").json()["results"]

    entered = client.post("/api/v1/entries", form, format="json")
    twice = client.post("/api/v1/entries", form | {"number": "28"}, format="json")
    left = client.post(f"/api/v1/entries/{entered.json()['id']}/withdraw")

    assert [event["name"] for event in found] == ["Open Saturday"]
    assert entered.status_code == 201, entered.json()
    assert (twice.status_code, twice.json()["errors"] or twice.json()["detail"]) == (
        422,
        "This bike is entered that day already: look at that entry, or enter another bike.",
    )
    assert left.status_code == 204
    assert listed(client, "entries") == set()


def test_a_number_that_rides_already_is_refused_at_its_field(ask, rider, other_rider, form, saturday):
    theirs = add_bike(by=SERVICE, rider=other_rider, code="b-2", description="600 sport")
    enter(by=SERVICE, day=saturday, bike=theirs, group=saturday.event.groups.get(), number="27")

    answer = ask(rider.person).post("/api/v1/entries", form, format="json")

    assert answer.status_code == 422
    assert "That number rides already that day: give another one." in str(answer.json())


def test_of_an_open_event_riders_see_name_days_and_groups_and_nothing_else(
    ask, rider, other_rider, saturday, fitter
):
    theirs = add_bike(by=SERVICE, rider=other_rider, code="b-2", description="600 sport")
    group = saturday.event.groups.get()
    enter(by=SERVICE, day=saturday, bike=theirs, group=group, number="27")
    client = ask(rider.person)

    assert listed(client, "events") == {str(saturday.event_id)}
    assert listed(client, "days") == {str(saturday.pk)}
    assert listed(client, "groups") == {str(group.pk)}
    for noun in [
        "entries",
        "riders",
        "slots",
        "conditions",
        "bulletins",
        "tires",
        "assessments",
        "pressures",
    ]:
        assert str(other_rider.pk) not in client.get(f"/api/v1/{noun}").content.decode()
    assert listed(client, "entries") == listed(client, "slots") == listed(client, "conditions") == set()
    assert listed(ask(fitter), "events") == listed(ask(fitter), "days") == set()


def test_an_event_that_takes_no_entries_or_is_past_is_not_shown(ask, rider, saturday, day, now):
    client = ask(rider.person)
    assert listed(client, "days") == {str(saturday.pk)}

    saturday.date = now.date() - timedelta(days=2)
    saturday.save()

    assert listed(client, "days") == listed(client, "events") == listed(client, "groups") == set()


def test_the_crew_opens_and_closes_an_event(ask, crew, tester, event):
    address = f"/api/v1/events/{event.pk}"

    opened = ask(crew).patch(address, {"takes_entries": True}, format="json", HTTP_IF_MATCH="*")
    refused = ask(tester).patch(address, {"takes_entries": False}, format="json", HTTP_IF_MATCH="*")

    assert (opened.status_code, opened.json()["takes_entries"]) == (200, True)
    assert refused.status_code == 403


def test_a_rider_logs_no_stint_on_an_open_day_not_entered(ask, rider, event, day, fitted, now):
    event.takes_entries = True
    event.save()
    stint = {
        "wheel_pair": str(fitted["front"].wheel_pair_id),
        "day": str(day.pk),
        "started_at": (now - timedelta(hours=1)).isoformat(),
        "ended_at": now.isoformat(),
        "laps": 3,
    }
    client = ask(rider.person)

    answer = client.post("/api/v1/stints", stint, format="json")

    assert listed(client, "days") == {str(day.pk)}
    assert answer.status_code == 422
    assert "You are not entered on that day" in answer.json()["errors"]["day"][0]
