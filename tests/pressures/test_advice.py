"""The next change after a stint, next to the science asked directly."""

from datetime import timedelta

import numpy as np
import pytest

from fleet.accounts.policy import SERVICE
from fleet.events.actions import record_conditions
from fleet.garage.actions import add_instrument
from fleet.inventory.actions import place_hold
from fleet.pressures.actions import draft_day
from fleet.pressures.advice import advise
from fleet.running.actions import log_stint, note_surface
from fleet.science import advice
from fleet.science.inflation import gas_temperature_c, gauge_after_kpa
from fleet.science.practice import practice
from fleet.science.thermal import at_pit_in_c

STEP_KPA = 0.5 * 6.894757293168  # half a psi; NIST SP 811 (2008), appendix B.8


@pytest.fixture
def target(day, entry, fitted, now):
    """The hot targets of the day's guidance by axle, on a day of 22 degrees C."""
    record_conditions(
        by=SERVICE,
        at=now,
        day=day,
        holds_at=now - timedelta(minutes=40),
        standing="observed",
        source="a thermometer",
        air_c=22.0,
        track_surface_c=35.0,
        altimeter_kpa=101.6,
    )
    guidance = draft_day(by=SERVICE, at=now, day=day)
    return {line.axle: line.hot_target_kpa for line in guidance.lines.filter(entry=entry)}


@pytest.fixture
def ridden(rider_person, wheel_pair, day, now):
    def log(**changes):
        stint = {
            "started_at": now - timedelta(minutes=50),
            "ended_at": now - timedelta(minutes=30),
            "day": day,
            "laps": 8,
            "set_tire_c": 22.0,
        }
        return log_stint(by=rider_person, at=now, wheel_pair=wheel_pair, **(stint | changes))

    return log


def asked(spec, target_kpa, start_kpa, hot_kpa, **more):
    given = {
        "lower_kpa": spec.lower_kpa,
        "upper_kpa": spec.upper_kpa,
        "step_kpa": STEP_KPA,
        "start_kpa": start_kpa,
        "start_c": 22.0,
        "hot_kpa": hot_kpa,
        "hot_target_kpa": target_kpa,
        "barometer_kpa": more.pop("barometer_kpa"),
    }
    return advice.Tire(**(given | more))


def test_it_is_what_the_science_says_of_the_readings_and_the_days_target(
    target, ridden, day, front_spec, rear_spec
):
    stint = ridden(
        front_set_kpa=205.0, rear_set_kpa=190.0, front_in_kpa=230.0, rear_in_kpa=226.0, feel="moves"
    )
    barometer_kpa = day.conditions.get().barometer_kpa

    found = advise(stint, gauge=None)

    direct = advice.suggest(
        asked(front_spec, target["front"], 205.0, 230.0, barometer_kpa=barometer_kpa),
        asked(rear_spec, target["rear"], 190.0, 226.0, barometer_kpa=barometer_kpa),
        [("moves", "")],
    )
    assert found.suggestion == direct
    assert found.suggestion.kind in ("pressure", "measure")
    assert [end.off_kpa for end in found.ends] == pytest.approx(
        [230.0 - target["front"], 226.0 - target["rear"]]
    )


def test_a_reading_taken_later_is_taken_back_to_coming_in(target, ridden, day):
    stint = ridden(rear_set_kpa=190.0, rear_in_kpa=212.0, minutes_since_in=10.0)
    barometer_kpa = day.conditions.get().barometer_kpa
    then_c = gas_temperature_c(190.0, 22.0, 212.0, barometer_kpa)
    was_c = at_pit_in_c(then_c, 22.0, 10.0)

    rear = advise(stint, gauge=None).ends[1]

    assert (rear.read_kpa, rear.minutes_late) == (212.0, 10.0)
    assert rear.hot_kpa == pytest.approx(float(gauge_after_kpa(190.0, 22.0, was_c, barometer_kpa)))
    assert rear.hot_kpa > 214.0


def test_a_late_reading_without_a_set_pressure_says_nothing(target, ridden):
    rear = advise(ridden(rear_in_kpa=212.0, minutes_since_in=10.0), gauge=None).ends[1]

    assert np.isnan(rear.hot_kpa)


def test_the_figure_to_set_is_on_the_riders_gauge_and_of_its_step(target, ridden, rider):
    gauge = add_instrument(
        by=SERVICE,
        code="g-1",
        name="Pocket gauge",
        kind="pressure",
        rider=rider,
        offset_kpa=5.0,
        step_kpa=2.0,
    )
    stint = ridden(
        front_set_kpa=210.0, rear_set_kpa=195.0, front_in_kpa=270.0, rear_in_kpa=222.0, instrument=gauge
    )

    found = advise(stint, gauge=gauge).suggestion

    assert (found.kind, found.axle) == ("pressure", "front")
    assert found.change_kpa == found.steps * 2.0 < 0.0
    assert found.start_kpa == pytest.approx(205.0 + found.change_kpa + 5.0)


def test_what_the_tread_showed_after_the_stint_counts(target, ridden, fitted, now):
    stint = ridden(feel="good")
    note_surface(by=SERVICE, at=now, tire=fitted["rear"].tire, look="cold_tear", seen_at=now, zone="L2")

    found = advise(stint, gauge=None).suggestion

    assert (found.followed, found.axle) == ("cold_tear", "rear")


def test_a_tire_on_hold_ends_it(target, ridden, fitted, tarn, now):
    stint = ridden(feel="moves")
    place_hold(by=SERVICE, at=now, tire=fitted["front"].tire, placed_for=tarn, placed_at=now, reason="damage")

    found = advise(stint, gauge=None).suggestion

    assert (found.kind, found.axle) == ("stand down", "front")


def test_without_readings_it_asks_for_them(target, ridden):
    assert advise(ridden(), gauge=None).suggestion.kind == "measure"


def test_off_an_event_the_target_is_the_best_source_for_the_tire(fitted, ridden, layout):
    found = advise(ridden(day=None, layout=layout, rear_in_kpa=215.0), gauge=None)

    assert found.ends[1].target_kpa == practice("track_day", "soft", "rear").hot_target_kpa
