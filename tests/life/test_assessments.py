"""What is said of a tire, from nothing known to worn out."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from fleet.accounts.policy import SERVICE
from fleet.errors import Conflict, NotFound
from fleet.events.actions import record_conditions
from fleet.inventory.actions import fit_tire, lift_hold, place_hold, remove_tire, void_fitting
from fleet.inventory.models import Tire
from fleet.life.actions import acknowledge_flag
from fleet.life.assessments import assess, assess_changed
from fleet.life.models import Assessment, Flag
from fleet.life.queries import open_flags, sets_of, tires_for
from fleet.notices.queries import notices_for
from fleet.running.actions import note_surface, void_reading, void_stint


def newest(fitting):
    return Assessment.objects.get(tire=fitting.tire, is_newest=True)


def test_a_tire_just_fitted_is_fresh_and_its_interval_is_wide(fitted, now):
    assess_changed(at=now)

    found = newest(fitted["rear"])

    assert found.state == "fresh"
    assert found.provenance["is_thin"]
    assert found.remaining_days_10 < found.remaining_days_50 < found.remaining_days_90
    assert found.remaining_days_90 / found.remaining_days_10 > 1.5


def test_a_ridden_tire_is_in_service_with_its_distance_and_one_heat_cycle(fitted, ride, now):
    ride(minutes_ago=100)
    ride(minutes_ago=75)

    assess_changed(at=now)

    found = newest(fitted["rear"])
    assert found.state == "in service"
    assert (found.distance_km, found.road_km, found.days_run) == (80.0, 0.0, 1)
    assert found.heat_cycles == 1  # five minutes between the two stints do not cool it


def test_a_long_break_costs_another_heat_cycle(fitted, ride, now):
    ride(minutes_ago=230)
    ride(minutes_ago=30)

    assess_changed(at=now)

    assert newest(fitted["rear"]).heat_cycles == 2


@pytest.mark.parametrize("air_c", [6.0, 20.0, 41.0])
def test_the_weather_does_not_change_how_many_heat_cycles_a_day_costs(fitted, day, ride, air_c, now):
    # The air is as cold as a tire gets, and a stint takes it as far over the air on any day.
    record_conditions(
        by=SERVICE,
        at=now,
        day=day,
        holds_at=now,
        standing="observed",
        source="thermometer",
        air_c=air_c,
        track_surface_c=air_c + 12.0,
    )
    ride(minutes_ago=230, day=day)
    ride(minutes_ago=30, day=day)

    assess_changed(at=now)

    assert (newest(fitted["front"]).heat_cycles, newest(fitted["rear"]).heat_cycles) == (2, 2)


def test_a_tread_near_its_limit_is_the_tires_last_day(fitted, ride, measure, now):
    ride(km=200.0)
    measure(fitted["rear"], 1.25)

    assess_changed(at=now)

    found = newest(fitted["rear"])
    assert found.state == "last day"
    assert found.binding_limit == "tread"
    assert found.depth_zone == "C"
    assert found.chance_next_day < 0.5


def test_a_tread_read_at_its_limit_stands_the_tire_down_until_the_reading_is_taken_back(
    fitted, ride, measure, rear_spec, now
):
    ride(km=200.0)
    measure(fitted["rear"], 5.3, minutes_ago=50)
    slip = measure(fitted["rear"], rear_spec.wear_limit_mm, minutes_ago=40)
    assess_changed(at=now)
    assert (newest(fitted["rear"]).state, newest(fitted["rear"]).binding_limit) == ("stand down", "tread")

    void_reading(by=SERVICE, at=now, reading=slip, reason="read in a groove")
    assess_changed(at=now)

    assert newest(fitted["rear"]).state == "in service"


def test_the_worst_zone_binds(fitted, ride, measure, now):
    ride(km=200.0)
    measure(fitted["rear"], 4.0, zone="C")
    measure(fitted["rear"], 2.0, zone="R1")

    assess_changed(at=now)

    assert (newest(fitted["rear"]).depth_zone, newest(fitted["rear"]).depth_mm) == ("R1", 2.0)


@pytest.mark.parametrize("look", ["cut", "cord"])
def test_damage_stands_a_tire_down(fitted, look, now):
    note_surface(by=SERVICE, at=now, tire=fitted["front"].tire, look=look, seen_at=now)

    assess_changed(at=now)

    assert (newest(fitted["front"]).state, newest(fitted["front"]).binding_limit) == ("stand down", "damage")


def test_a_hold_stands_a_tire_down_until_it_is_lifted(fitted, entry, longfield, inspector, now):
    hold = place_hold(
        by=inspector,
        at=now,
        tire=fitted["front"].tire,
        placed_for=longfield,
        reason="inspection",
        placed_at=now,
    )
    assess_changed(at=now)
    assert newest(fitted["front"]).binding_limit == "hold"

    lift_hold(by=inspector, at=now, hold=hold, reason="valve replaced")
    assess_changed(at=now)

    assert newest(fitted["front"]).state == "fresh"


def test_a_tire_made_over_ten_years_ago_stands_down(fitted, now):
    tire = fitted["rear"].tire
    tire.made_on = now.date() - timedelta(days=3700)
    tire.revision += 1
    tire.save()

    assess_changed(at=now)

    assert (newest(fitted["rear"]).state, newest(fitted["rear"]).binding_limit) == ("stand down", "age")


def test_road_kilometers_count_a_tenth_and_bring_the_legal_limit(fitted, ride, now):
    # Common practice, no published source: a tenth.
    ride(km=100.0, layout=None)

    assess_changed(at=now)

    found = newest(fitted["rear"])
    assert found.road_km == 100.0
    assert found.provenance["severity_km"] == pytest.approx(10.0)


def test_only_what_changed_is_assessed_again(fitted, ride, now):
    assert assess_changed(at=now) == 2
    assert assess_changed(at=now) == 0

    stint = ride()
    assert assess_changed(at=now) == 2

    void_stint(by=SERVICE, at=now, stint=stint, reason="another bike")
    assert assess_changed(at=now) == 2
    assert newest(fitted["rear"]).distance_km == 0.0


def test_a_voided_reading_no_longer_counts(fitted, ride, measure, now):
    ride(km=200.0)
    reading = measure(fitted["rear"], 1.1)
    assess_changed(at=now)

    void_reading(by=SERVICE, at=now, reading=reading, reason="read the sipe's edge")
    assess_changed(at=now)

    assert newest(fitted["rear"]).readings == 0


def test_assessing_twice_gives_the_same_answer(fitted, ride, measure, now):
    ride()
    measure(fitted["rear"], 5.0)
    assess(None, at=now)
    first = newest(fitted["rear"])

    assess(None, at=now)

    second = newest(fitted["rear"])
    assert (second.state, second.remaining_days_50) == (first.state, first.remaining_days_50)
    assert Assessment.objects.filter(tire=second.tire).count() == 1


def test_a_flag_is_raised_once_and_who_must_stop_is_told_once(fitted, ride, measure, rider_person, now):
    ride(km=200.0)
    measure(fitted["rear"], 0.9)
    assess(None, at=now)

    assess(None, at=now + timedelta(hours=1))

    assert Flag.objects.filter(tire=fitted["rear"].tire).count() == 1
    assert [notice.topic for notice in notices_for(rider_person)] == ["stand down"]


def test_a_flag_is_acknowledged_by_a_person_and_cleared_by_the_removal(
    fitted, ride, measure, tarn, fitter, now
):
    ride(km=200.0)
    measure(fitted["rear"], 1.25)
    assess_changed(at=now)
    flag = open_flags(fitter, on=now.date()).get()

    acknowledge_flag(by=fitter, at=now, flag=flag)
    with pytest.raises(Conflict):
        acknowledge_flag(by=fitter, at=now, flag=flag)
    remove_tire(
        by=fitter,
        at=now,
        fitting=fitted["rear"],
        removed_at=now,
        reason="worn",
        destination="scrapped",
        vendor=tarn,
    )
    assess_changed(at=now)

    flag.refresh_from_db()
    assert flag.acknowledged_by == fitter
    assert flag.cleared_because == "removed from the wheel"


def test_a_stranger_sees_neither_tire_nor_flag(fitted, ride, measure, stranger, now):
    ride(km=200.0)
    measure(fitted["rear"], 1.25)
    assess_changed(at=now)

    assert not tires_for(stranger, on=now.date()).exists()
    assert not open_flags(stranger, on=now.date()).exists()
    with pytest.raises(NotFound):
        acknowledge_flag(by=stranger, at=now, flag=Flag.objects.get())


def test_an_organiser_sees_entrants_tires_until_thirty_days_after(fitted, entry, crew, day):
    assert tires_for(crew, on=day.date + timedelta(days=30)).count() == 2
    assert tires_for(crew, on=day.date + timedelta(days=31)).count() == 0


def test_a_tire_put_back_into_its_lot_is_nobodys_any_more(fitted, rider_person, now):
    void_fitting(by=SERVICE, at=now, fitting=fitted["rear"], reason="wrong wheel")

    assert list(tires_for(rider_person, on=now.date())) == [fitted["front"].tire]


def test_the_garage_shows_the_set_in_use(fitted, rider, now):
    assess_changed(at=now)

    (view,) = sets_of([rider])

    assert list(view.tires) == ["front", "rear"]
    assert view.tires["rear"].assessment.state == "fresh"
    assert not view.tires["rear"].is_on_hold


def test_assessing_takes_the_same_number_of_queries_for_any_number_of_tires(fitted, now):
    with CaptureQueriesContext(connection) as two:
        assess(None, at=now)
    Tire.objects.bulk_create(
        [
            Tire(spec=fitted["rear"].tire.spec, owner=fitted["rear"].tire.owner, label_code=f"EXTRA{index}")
            for index in range(20)
        ]
    )

    with CaptureQueriesContext(connection) as many:
        assess(None, at=now)

    assert len(many) == len(two)


def test_a_new_tire_after_the_old_one_starts_from_nothing(fitted, ride, wheel_pair, rear_lot, now):
    ride(km=200.0)
    remove_tire(
        by=SERVICE, at=now, fitting=fitted["rear"], removed_at=now, reason="worn", destination="scrapped"
    )
    fresh = fit_tire(by=SERVICE, at=now, wheel_pair=wheel_pair, axle="rear", fitted_at=now, lot=rear_lot)

    assess_changed(at=now)

    assert newest(fresh).distance_km == 0.0
    assert newest(fitted["rear"]).distance_km == 200.0


def test_a_tire_that_came_part_worn_is_believed_at_its_measured_depth(fitted, measure, now):
    for zone in ("L1", "C", "R1"):
        measure(fitted["rear"], 3.0, zone=zone, minutes_ago=200)

    assess_changed(at=now)

    # 2 mm to the limit of 1 mm at practice's 3.4 mm in 1000 km (no published source) is 588 km, at 110 km a day.
    found = newest(fitted["rear"])
    assert found.depth_mm == 3.0
    assert found.remaining_days_50 == pytest.approx(2000 / 3.4 / 110, rel=0.05)
