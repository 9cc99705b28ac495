"""Tracks, events, days, groups, slots and entries."""

from datetime import date, timedelta

import pytest

from fleet.accounts.policy import SERVICE
from fleet.errors import Invalid, NotAllowed, NotFound
from fleet.events.actions import (
    add_day,
    add_group,
    add_layout,
    add_slot,
    add_track,
    enter,
    plan_event,
    withdraw_entry,
)
from fleet.events.models import Day, Entry, Event, Slot
from fleet.events.queries import days_for, entrants_for, entries_for, events_for, slots_for
from fleet.garage.actions import add_bike, register_rider
from fleet.guards import NotUnique


def test_the_crew_plans_an_event_with_days_groups_slots_and_entries(crew, longfield, layout, now):
    walk_in = register_rider(by=crew, code="r-9", name="Wil Stroud", registered_with=longfield)
    bike = add_bike(by=crew, rider=walk_in, code="b-9", description="600 sport")
    event = plan_event(by=crew, organiser=longfield, code="june", name="June")
    day = add_day(by=crew, event=event, date=now.date(), layout=layout)
    group = add_group(by=crew, event=event, name="Fast")
    add_slot(by=crew, day=day, group=group, starts_at=now, ends_at=now + timedelta(minutes=20))
    entry = enter(by=crew, day=day, bike=bike, group=group, number="27")

    assert entry.rider == walk_in
    assert list(slots_for(crew)) == list(Slot.objects.all())


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"latitude_deg": 152.9}, "latitude_deg"),
        ({"longitude_deg": -181.0}, "longitude_deg"),
        ({"altitude_m": 14300.0}, "altitude_m"),
        ({"time_zone": "Europe/Longfield"}, "time_zone"),
        ({"time_zone": "../../etc"}, "time_zone"),
        ({"latitude_deg": float("nan")}, "latitude_deg"),
    ],
)
def test_a_track_that_is_nowhere_is_refused(changes, field, db):
    given = {
        "code": "cold-quarry",
        "name": "Cold Quarry Raceway",
        "latitude_deg": 44.1,
        "longitude_deg": -103.9,
        "altitude_m": 1430.0,
        "time_zone": "America/Denver",
    }

    with pytest.raises(Invalid) as refused:
        add_track(by=SERVICE, **(given | changes))

    assert refused.value.field == field


def test_a_layout_in_meters_is_recognised_as_a_wrong_unit(track):
    with pytest.raises(Invalid) as refused:
        add_layout(by=SERVICE, track=track, code="full", name="Full", length_km=4120.0)

    assert refused.value.field == "length_km"


def test_an_event_is_run_by_an_organiser(tarn):
    with pytest.raises(Invalid, match="vendor only"):
        plan_event(by=SERVICE, organiser=tarn, code="june", name="June")


def test_an_event_has_a_date_once(event, day, layout):
    with pytest.raises(Invalid):
        add_day(by=SERVICE, event=event, date=day.date, layout=layout)


def test_a_slot_ends_after_it_starts_and_lies_on_its_day(day, group, now):
    with pytest.raises(Invalid, match="ends after it starts"):
        add_slot(by=SERVICE, day=day, group=group, starts_at=now, ends_at=now)
    with pytest.raises(Invalid) as refused:
        add_slot(
            by=SERVICE,
            day=day,
            group=group,
            starts_at=now + timedelta(days=1),
            ends_at=now + timedelta(days=1, minutes=20),
        )

    assert refused.value.field == "starts_at"


def test_a_slots_date_is_that_of_the_track_not_of_greenwich(event, group, now):
    far_west = add_track(
        by=SERVICE,
        code="cold-quarry",
        name="Cold Quarry Raceway",
        latitude_deg=44.1,
        longitude_deg=-103.9,
        altitude_m=1430.0,
        time_zone="America/Denver",
    )
    layout = add_layout(by=SERVICE, track=far_west, code="cold-quarry-full", name="Full", length_km=3.38)
    evening = add_day(by=SERVICE, event=event, date=date(2026, 6, 12), layout=layout)
    after_midnight_utc = now.replace(hour=0) + timedelta(days=1)

    slot = add_slot(
        by=SERVICE,
        day=evening,
        group=group,
        starts_at=after_midnight_utc,
        ends_at=after_midnight_utc + timedelta(minutes=20),
    )

    assert slot.starts_at.date() == date(2026, 6, 13)


def test_a_group_of_another_event_is_refused(day, bike, longfield, now):
    other = plan_event(by=SERVICE, organiser=longfield, code="july", name="July")
    foreign = add_group(by=SERVICE, event=other, name="Fast")

    with pytest.raises(Invalid) as refused:
        add_slot(by=SERVICE, day=day, group=foreign, starts_at=now, ends_at=now + timedelta(minutes=20))
    assert refused.value.field == "group"
    with pytest.raises(Invalid) as refused:
        enter(by=SERVICE, day=day, bike=bike, group=foreign, number="27")
    assert refused.value.field == "group"


def test_a_bike_and_a_number_ride_once_a_day(entry, day, group, bike, other_rider):
    theirs = add_bike(by=SERVICE, rider=other_rider, code="b-2", description="600 sport")

    with pytest.raises(Invalid, match="That number rides already"):
        enter(by=SERVICE, day=day, bike=theirs, group=group, number="27")
    with pytest.raises(Invalid, match="This bike is entered that day already"):
        enter(by=SERVICE, day=day, bike=bike, group=group, number="28")


def test_a_withdrawn_entry_is_gone_and_the_number_free(entry, crew, day, group, bike):
    withdraw_entry(by=crew, entry=entry)

    assert enter(by=SERVICE, day=day, bike=bike, group=group, number="27").pk


def test_what_guidance_rests_on_marks_the_day_for_a_new_draft(day, group, bike, now):
    def revision():
        return Day.objects.get(pk=day.pk).revision

    seen = [revision()]
    add_slot(by=SERVICE, day=day, group=group, starts_at=now, ends_at=now + timedelta(minutes=20))
    seen.append(revision())
    entry = enter(by=SERVICE, day=day, bike=bike, group=group, number="27")
    seen.append(revision())
    withdraw_entry(by=SERVICE, entry=entry)
    seen.append(revision())

    assert seen == sorted(set(seen))


def test_only_the_organisers_crew_and_director_plan(
    event, day, group, bike, layout, longfield, director, inspector, tester, fitter, rider_person, entry
):
    for member in (inspector, tester):
        with pytest.raises(NotAllowed):
            plan_event(by=member, organiser=longfield, code="own", name="Own")
        with pytest.raises(NotAllowed):
            withdraw_entry(by=member, entry=entry)
    for nobody in (fitter, rider_person):
        with pytest.raises(NotFound):
            add_day(by=nobody, event=event, date=date(2026, 6, 13), layout=layout)
        with pytest.raises(NotFound):
            add_group(by=nobody, event=event, name="Mine")
        with pytest.raises(NotFound):
            enter(by=nobody, day=day, bike=bike, group=group, number="1")
        with pytest.raises(NotFound):
            withdraw_entry(by=nobody, entry=entry)

    assert plan_event(by=director, organiser=longfield, code="own", name="Own").pk
    assert (Event.objects.count(), Entry.objects.count()) == (2, 1)


def test_tracks_are_written_by_the_service_only(track, director):
    with pytest.raises(NotAllowed):
        add_layout(by=director, track=track, code="short", name="Short", length_km=2.65)


def test_events_are_seen_by_the_organisers_people_and_by_who_is_entered(
    event, day, entry, crew, inspector, tester, rider_person, other_rider, fitter
):
    insiders = (crew, inspector, tester, rider_person)
    outsiders = (other_rider.person, fitter)

    assert [list(events_for(by)) for by in insiders] == [[event]] * 4
    assert [list(days_for(by)) for by in insiders] == [[day]] * 4
    assert [events_for(by).count() + days_for(by).count() for by in outsiders] == [0, 0]


def test_a_rider_sees_their_own_entry_and_the_crew_all(
    entry, day, group, other_rider, rider_person, crew, fitter
):
    theirs = add_bike(by=SERVICE, rider=other_rider, code="b-2", description="600 sport")
    second = enter(by=SERVICE, day=day, bike=theirs, group=group, number="3")

    assert list(entries_for(rider_person)) == [entry]
    assert list(entries_for(crew)) == [entry, second]
    assert not entries_for(fitter).exists()


def test_an_entry_opens_the_riders_tires_to_the_organiser_for_thirty_days(entry, crew, tester, rider, day):
    assert list(entrants_for(crew, on=day.date)) == [rider]
    assert list(entrants_for(crew, on=day.date + timedelta(days=30))) == [rider]
    assert not entrants_for(crew, on=day.date + timedelta(days=31)).exists()
    assert not entrants_for(tester, on=day.date).exists()


def test_two_slots_of_a_group_do_not_start_together(slot, day, group):
    with pytest.raises((Invalid, NotUnique)):
        add_slot(by=SERVICE, day=day, group=group, starts_at=slot.starts_at, ends_at=slot.ends_at)
