"""Mending what was planned: until something rests on it."""

from datetime import date, timedelta

import pytest

from fleet.accounts.models import Change
from fleet.accounts.policy import SERVICE
from fleet.errors import Invalid, NotAllowed, NotFound
from fleet.events.actions import (
    add_day,
    add_group,
    add_layout,
    add_track,
    correct_day,
    correct_entry,
    correct_event,
    correct_group,
    correct_slot,
    enter,
    plan_event,
)
from fleet.events.errors import DayInUse
from fleet.garage.actions import add_bike


@pytest.fixture
def short(track):
    return add_layout(by=SERVICE, track=track, code="marram-point-short", name="Short", length_km=2.2)


def test_a_day_without_anything_on_it_moves_to_another_date(crew, day):
    correct_day(by=crew, day=day, date=date(2026, 6, 13))

    line = Change.objects.get(row=day.pk, what="corrected")
    assert (line.before, line.after) == ({"date": "2026-06-12"}, {"date": "2026-06-13"})


def test_a_day_with_entries_keeps_its_date_and_its_track(crew, day, entry, short):
    place = {"latitude_deg": 50.0, "longitude_deg": 1.0, "altitude_m": 10.0, "time_zone": "Europe/London"}
    far = add_track(by=SERVICE, code="far", name="Far", **place)
    elsewhere = add_layout(by=SERVICE, track=far, code="far-full", name="Full", length_km=3.0)

    for given in ({"date": date(2026, 6, 13)}, {"layout": elsewhere}):
        with pytest.raises(DayInUse, match="entries"):
            correct_day(by=crew, day=day, **given)

    assert correct_day(by=crew, day=day, layout=short).layout == short


def test_a_day_that_was_run_keeps_its_layout(crew, stint, day, short):
    with pytest.raises(DayInUse, match="stints"):
        correct_day(by=crew, day=day, layout=short)


def test_a_slot_stays_on_its_day_and_with_its_event(crew, longfield, slot):
    elsewhere = plan_event(by=SERVICE, organiser=longfield, code="july", name="July")
    foreign = add_group(by=SERVICE, event=elsewhere, name="Slow")

    with pytest.raises(Invalid, match="another event"):
        correct_slot(by=crew, slot=slot, group=foreign)
    with pytest.raises(Invalid, match="not on the day"):
        correct_slot(by=crew, slot=slot, starts_at=slot.starts_at + timedelta(days=1))
    with pytest.raises(Invalid, match="ends after it starts"):
        correct_slot(by=crew, slot=slot, ends_at=slot.starts_at)


def test_a_mended_slot_entry_and_group_ask_for_a_new_draft(crew, day, slot, entry, group):
    revisions = []
    for mend in (
        lambda: correct_slot(by=crew, slot=slot, ends_at=slot.ends_at + timedelta(minutes=5)),
        lambda: correct_entry(by=crew, entry=entry, number="28"),
        lambda: correct_group(by=crew, group=group, name="Quick"),
    ):
        mend()
        day.refresh_from_db()
        revisions.append(day.revision)

    assert revisions == sorted(set(revisions))


def test_a_number_that_rides_already_is_refused(crew, day, bike, other_rider, group, entry):
    second = add_bike(by=SERVICE, rider=other_rider, code="b-2", description="600 sport")
    also = enter(by=SERVICE, day=day, bike=second, group=group, number="31")

    with pytest.raises(Invalid, match="rides already"):
        correct_entry(by=crew, entry=also, number="27")


def test_only_the_organisers_crew_mends_an_event(inspector, fitter, event):
    with pytest.raises(NotAllowed):
        correct_event(by=inspector, event=event, name="Mine")
    with pytest.raises(NotFound):
        correct_event(by=fitter, event=event, name="Mine")


def test_two_days_of_an_event_never_share_a_date(crew, event, day, layout):
    later = add_day(by=SERVICE, event=event, date=date(2026, 6, 14), layout=layout)

    with pytest.raises(Invalid):
        correct_day(by=crew, day=later, date=day.date)
