"""Stints: what one is, what comes with it, and what is refused."""

import uuid
from datetime import date, timedelta

import pytest

from fleet.accounts.policy import SERVICE
from fleet.errors import InTheFuture, Invalid, KeyReused, NotFound
from fleet.events.actions import add_day, add_layout, add_track, enter
from fleet.events.models import Day
from fleet.guards import Overlap
from fleet.inventory.actions import remove_tire
from fleet.inventory.models import Tire
from fleet.running.actions import void_stint
from fleet.running.errors import DistanceUnknown, NothingFitted
from fleet.running.models import FeelNote, PressureReading, Stint
from fleet.running.queries import stints_for, tires_of


def test_laps_on_the_days_layout_make_the_distance(log, day, entry):
    stint = log(day=day, laps=8, distance_km=None)

    assert stint.distance_km == pytest.approx(8 * 4.12)
    assert (stint.layout, stint.is_on_road) == (day.layout, False)


def test_a_ride_without_a_layout_is_on_the_road(log):
    assert log().is_on_road


def test_pressures_and_a_feel_word_come_along_with_a_stint(log, fitted):
    stint = log(front_set_kpa=205.0, rear_set_kpa=190.0, front_in_kpa=232.0, set_tire_c=24.0, feel="squirms")

    told = {(p.tire, p.moment): (p.pressure_kpa, p.taken_at, p.tire_c) for p in stint.pressures.all()}
    assert told == {
        (fitted["front"].tire, "set"): (205.0, stint.started_at, 24.0),
        (fitted["rear"].tire, "set"): (190.0, stint.started_at, 24.0),
        (fitted["front"].tire, "in"): (232.0, stint.ended_at, None),
    }
    assert FeelNote.objects.get().feel == "squirms"


def test_a_pressure_read_some_minutes_after_coming_in_is_a_later_one(log):
    stint = log(front_in_kpa=228.0, minutes_since_in=5.0)

    reading = PressureReading.objects.get()
    assert (reading.moment, reading.taken_at) == ("later", stint.ended_at + timedelta(minutes=5))


def test_one_bad_value_stores_nothing_at_all(log):
    with pytest.raises(Invalid, match="check the unit"):
        log(front_set_kpa=205.0, rear_set_kpa=1999.0, feel="good")

    assert not Stint.objects.exists()
    assert not PressureReading.objects.exists()


def test_a_stint_tells_the_jobs_what_changed(log, day, entry, fitted):
    before = {t.pk: t.revision for t in Tire.objects.all()}, Day.objects.get().revision

    log(day=day, laps=8)

    assert all(t.revision > before[0][t.pk] for t in Tire.objects.all())
    assert Day.objects.get().revision > before[1]


def test_stints_of_a_wheel_pair_do_not_overlap(log, now):
    log()

    with pytest.raises(Overlap, match="covers part of that time"):
        log(started_at=now - timedelta(minutes=15), ended_at=now - timedelta(minutes=5))
    with pytest.raises(Overlap):
        log(started_at=now - timedelta(minutes=60), ended_at=now)

    assert log(started_at=now - timedelta(minutes=10), ended_at=now).pk  # back to back is no overlap


def test_a_voided_stint_makes_room_for_the_right_one(log, rider_person, now):
    wrong = log(front_set_kpa=205.0, feel="good")

    void_stint(by=rider_person, at=now, stint=wrong, reason="the other bike")

    assert log().pk
    assert PressureReading.objects.get().void_reason == "the other bike"
    assert FeelNote.objects.get().voided_at == now


def test_nothing_runs_while_it_is_not_fitted(log, fitted, now):
    with pytest.raises(NothingFitted, match="log the fitting first"):
        log(started_at=now - timedelta(hours=5), ended_at=now - timedelta(hours=4, minutes=40))

    remove_tire(
        by=SERVICE,
        at=now,
        fitting=fitted["rear"],
        removed_at=now - timedelta(minutes=15),
        reason="worn",
        destination="scrapped",
    )
    with pytest.raises(NothingFitted, match="No rear tire"):
        log()

    assert not Stint.objects.exists()


def test_a_stint_ends_after_it_starts_and_not_in_the_future(log, now):
    with pytest.raises(Invalid, match="ends after it starts"):
        log(started_at=now - timedelta(minutes=10), ended_at=now - timedelta(minutes=20))
    with pytest.raises(InTheFuture) as refused:
        log(started_at=now, ended_at=now + timedelta(minutes=20))

    assert refused.value.field == "ended_at"


@pytest.mark.parametrize(
    ("changes", "field", "says"),
    [
        ({"distance_km": 30000.0}, "distance_km", "faster than any motorcycle"),
        ({"distance_km": -5.0}, "distance_km", "greater than or equal"),
        ({"distance_km": float("nan")}, "distance_km", "no measurement"),
        ({"effort": 90.0}, "effort", "nine tenths"),
        ({"warmers_c": 180.0}, "warmers_c", "check the unit"),
        ({"lap_times_s": [102.4, 1.4]}, "lap_times_s", "such as 102.35"),
        ({"minutes_since_in": -5.0, "front_in_kpa": 230.0}, "minutes_since_in", "0 minutes to a day"),
        ({"minutes_since_in": float("nan"), "front_in_kpa": 230.0}, "minutes_since_in", "0 minutes to a day"),
        ({"feel": "meh"}, "feel", "meh"),
    ],
)
def test_a_stint_that_cannot_be_is_refused_with_the_reason(changes, field, says, log):
    with pytest.raises(Invalid, match=says) as refused:
        log(**changes)

    assert refused.value.field == field
    assert not Stint.objects.exists()


def test_laps_typed_tenfold_are_noticed(log, day, entry):
    with pytest.raises(Invalid, match="check the laps") as refused:
        log(day=day, laps=80, distance_km=None)

    assert refused.value.field == "laps"


def test_without_laps_and_distance_nothing_can_be_counted(log):
    with pytest.raises(DistanceUnknown) as refused:
        log(distance_km=None)

    assert refused.value.field == "laps"


def test_a_stint_counts_for_a_day_only_of_somebody_entered(log, day):
    with pytest.raises(Invalid, match="not entered on that day") as refused:
        log(day=day, laps=8)

    assert refused.value.field == "day"


def test_a_stint_counts_for_its_own_date_only(log, event, layout, group, bike):
    tomorrow = add_day(by=SERVICE, event=event, date=date(2026, 6, 13), layout=layout)
    enter(by=SERVICE, day=tomorrow, bike=bike, group=group, number="27")

    with pytest.raises(Invalid, match="13 Jun 2026") as refused:
        log(day=tomorrow, laps=8)

    assert refused.value.field == "day"


def test_the_layout_is_one_of_the_days_track(log, day, entry, track):
    short = add_layout(by=SERVICE, track=track, code="marram-point-short", name="Short", length_km=2.65)
    elsewhere = add_track(
        by=SERVICE,
        code="cold-quarry",
        name="Cold Quarry Raceway",
        latitude_deg=44.1,
        longitude_deg=-103.9,
        altitude_m=1430.0,
        time_zone="America/Denver",
    )
    foreign = add_layout(by=SERVICE, track=elsewhere, code="cold-quarry-full", name="Full", length_km=3.38)

    with pytest.raises(Invalid) as refused:
        log(day=day, layout=foreign, laps=8, distance_km=None)

    assert refused.value.field == "layout"
    assert log(day=day, layout=short, laps=8, distance_km=None).distance_km == pytest.approx(21.2)


def test_a_stint_sent_twice_is_stored_once_with_its_pressures(log):
    given = {"key": uuid.uuid4(), "front_set_kpa": 205.0, "rear_in_kpa": 221.0, "feel": "good"}

    assert log(**given) == log(**given)

    assert (Stint.objects.count(), PressureReading.objects.count(), FeelNote.objects.count()) == (1, 2, 1)


@pytest.mark.parametrize(
    "changes", [{"distance_km": 31.0}, {"effort": 0.9}, {"front_set_kpa": 206.0}, {"rear_set_kpa": 190.0}]
)
def test_a_stints_key_serves_no_other_stint(changes, log):
    given = {"key": uuid.uuid4(), "front_set_kpa": 205.0}
    log(**given)

    with pytest.raises(KeyReused):
        log(**(given | changes))

    assert (Stint.objects.count(), PressureReading.objects.count()) == (1, 1)


def test_only_the_rider_logs_and_voids_their_stints(log, stint, fitter, stranger, other_rider, director, now):
    for nobody in (fitter, stranger, other_rider.person, director):
        with pytest.raises(NotFound):
            log(by=nobody)
        with pytest.raises(NotFound):
            void_stint(by=nobody, at=now, stint=stint, reason="mischief")

    assert Stint.objects.get().voided_at is None


def test_stints_are_seen_by_the_rider_alone_unless_shared(
    stint, rider_person, fitter, stranger, other_rider, director, tester
):
    nobody = (fitter, stranger, other_rider.person, director, tester)

    assert list(stints_for(rider_person)) == [stint]
    assert [stints_for(by).count() for by in nobody] == [0] * 5


def test_the_tires_of_a_stint_are_those_that_were_on_then(stint, fitted, now):
    remove_tire(
        by=SERVICE, at=now, fitting=fitted["front"], removed_at=now, reason="swap", destination="kept"
    )

    assert tires_of(stint) == {axle: fitting.tire for axle, fitting in fitted.items()}
