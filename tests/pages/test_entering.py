"""Riding at an event: a rider finds a day, reads what an entry opens, enters, and leaves again."""

from datetime import timedelta

import pytest
from django.urls import reverse

from fleet.accounts.policy import SERVICE
from fleet.events.actions import add_day, add_group, enter, plan_event
from fleet.events.models import Entry
from fleet.events.seers import seers_of
from fleet.garage.actions import add_bike


@pytest.fixture
def saturday(longfield, layout, now):
    """A day in three days' time of an event that takes entries."""
    event = plan_event(by=SERVICE, organiser=longfield, code="open", name="Open Saturday", takes_entries=True)
    add_group(by=SERVICE, event=event, name="Slow")
    return add_day(by=SERVICE, event=event, date=now.date() + timedelta(days=3), layout=layout)


@pytest.fixture
def form(saturday, bike):
    group = saturday.event.groups.get()
    return {"riding": f"{saturday.pk}:{group.pk}", "bike": bike.pk, "number": "27", "uses_warmers": "yes"}


def words(answer):
    return " ".join(answer.content.decode().split())


def test_a_rider_reads_what_an_entry_opens_enters_and_takes_it_back(as_, rider, form, saturday, now):
    client = as_(rider.person)
    before = words(client.get("/garage/events/"))

    entered = words(client.post("/garage/events/", form, follow=True))

    entry = Entry.objects.get()
    assert (entry.rider, entry.day, entry.number, entry.uses_warmers) == (rider, saturday, "27", True)
    assert "with number 27" in entered
    (seer,) = (one for one in seers_of(rider, on=now.date()) if one.until)
    assert seer.what in before.split("What this opens")[1].split("<button")[0]
    client.post(reverse("leave-day", args=[entry.pk]))
    assert not Entry.objects.exists()
    assert all(one.until is None for one in seers_of(rider, on=now.date()))


def test_the_garage_leads_to_the_days_that_take_entries_and_names_no_others(
    as_, rider, saturday, day, other_rider
):
    theirs = add_bike(by=SERVICE, rider=other_rider, code="b-2", description="250 twin")
    enter(by=SERVICE, day=saturday, bike=theirs, group=saturday.event.groups.get(), number="27")
    client = as_(rider.person)

    page = words(client.get("/garage/events/"))

    assert 'href="/garage/events/"' in words(client.get("/garage/"))
    assert "Open Saturday" in page
    assert str(day.event) not in page
    assert "Ottie" not in page
    assert "250 twin" not in page


def test_a_number_that_rides_already_and_an_empty_form_say_what_would_be_right(
    as_, rider, form, saturday, other_rider
):
    theirs = add_bike(by=SERVICE, rider=other_rider, code="b-2", description="250 twin")
    enter(by=SERVICE, day=saturday, bike=theirs, group=saturday.event.groups.get(), number="27")
    client = as_(rider.person)

    taken = client.post("/garage/events/", form)
    empty = client.post("/garage/events/", {})

    assert (taken.status_code, empty.status_code) == (422, 422)
    assert "That number rides already that day: give another one." in words(taken)
    assert "Day and group is missing: choose one." in words(empty)
    assert Entry.objects.count() == 1


def test_anothers_bike_a_closed_event_and_anothers_entry_are_out_of_reach(
    as_, rider, form, entry, other_rider
):
    theirs = as_(other_rider.person)
    add_bike(by=SERVICE, rider=other_rider, code="b-2", description="250 twin")
    closed = f"{entry.day_id}:{entry.group_id}"

    bike = theirs.post("/garage/events/", form)
    event = as_(rider.person).post("/garage/events/", form | {"riding": closed})
    left = theirs.post(reverse("leave-day", args=[entry.pk]))

    assert (bike.status_code, event.status_code, left.status_code) == (422, 422, 404)
    assert "Choose one of your own bikes." in words(bike)
    assert "this one takes no entries" in words(event)
    assert list(Entry.objects.all()) == [entry]


def test_on_the_day_the_page_sends_to_the_desk(as_, rider, entry):
    answer = as_(rider.person).post(reverse("leave-day", args=[entry.pk]))

    assert answer.status_code == 409
    assert "ask at the desk" in words(answer)
    assert Entry.objects.exists()


def test_who_has_no_bike_and_who_finds_no_day_is_told_what_to_do(as_, other_rider, layout, longfield, now):
    client = as_(other_rider.person)
    assert "Ask the organiser to enter you" in words(client.get("/garage/events/"))
    event = plan_event(by=SERVICE, organiser=longfield, code="open", name="Open", takes_entries=True)
    add_group(by=SERVICE, event=event, name="Slow")
    add_day(by=SERVICE, event=event, date=now.date() + timedelta(days=3), layout=layout)

    page = words(client.get("/garage/events/"))

    assert "There is no bike in your garage." in page
    assert "What this opens" not in page


def test_the_page_asks_a_fixed_number_of_questions(
    as_, rider, form, saturday, layout, django_assert_max_num_queries
):
    client = as_(rider.person)
    for ahead in range(4, 9):
        add_day(by=SERVICE, event=saturday.event, date=saturday.date + timedelta(days=ahead), layout=layout)

    with django_assert_max_num_queries(14):
        client.get("/garage/events/")
