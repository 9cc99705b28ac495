"""Guidance of a day, from an empty history to readings of the day."""

from datetime import timedelta

import pytest

from fleet.accounts.policy import SERVICE
from fleet.catalogue.actions import note_reference, publish_pressure
from fleet.events.actions import record_conditions
from fleet.garage.actions import add_instrument
from fleet.inventory.actions import fit_tire, remove_tire
from fleet.pressures.guidance import draft
from fleet.pressures.queries import days_wanting_draft, own_lines
from fleet.running.actions import log_stint
from fleet.science.units import KPA_PER_PSI


def by_axle(lines):
    return {line.axle: line for line in lines}


def test_without_conditions_nothing_is_drafted(day, entry, fitted, now):
    assert draft(day, at=now) is None


def test_a_soft_track_day_set_on_a_day_above_38_degrees_starts_near_29_and_27_psi(hot_day, rider, now):
    # Common practice, no published source: 29 psi front and 27 psi rear, no warmers; within 1.5 psi of both.
    draft(hot_day, at=now)

    lines = by_axle(own_lines(rider, hot_day, at=now))

    assert lines["front"].start_kpa / KPA_PER_PSI == pytest.approx(29.0, abs=1.5)
    assert lines["rear"].start_kpa / KPA_PER_PSI == pytest.approx(27.0, abs=1.5)
    assert lines["front"].basis == "practice"
    assert lines["front"].readings == 0


def test_the_board_has_a_line_for_each_spec_and_group_and_names_nobody(hot_day, now):
    guidance = draft(hot_day, at=now)

    board = guidance.lines.filter(entry__isnull=True)

    assert sorted(board.values_list("spec__code", "group__name")) == [
        ("lowmoor-td-f", "Fast"),
        ("lowmoor-td-r", "Fast"),
    ]


def test_drafting_again_without_a_change_keeps_the_same_guidance(hot_day, now):
    first = draft(hot_day, at=now)

    assert draft(hot_day, at=now + timedelta(minutes=1)) == first
    assert days_wanting_draft(at=now) == []


def test_a_change_of_weather_makes_the_draft_stale(hot_day, now):
    draft(hot_day, at=now)

    record_conditions(
        by=SERVICE, at=now, day=hot_day, holds_at=now, standing="observed", source="thermometer", air_c=28.0
    )

    assert days_wanting_draft(at=now) == [hot_day]


def test_a_changed_tire_makes_the_draft_stale(hot_day, wheel_pair, front_lot, fitted, now):
    draft(hot_day, at=now)

    remove_tire(
        by=SERVICE, at=now, fitting=fitted["front"], removed_at=now, reason="damaged", destination="scrapped"
    )
    fit_tire(by=SERVICE, at=now, wheel_pair=wheel_pair, axle="front", fitted_at=now, lot=front_lot)

    assert days_wanting_draft(at=now) == [hot_day]


def test_today_and_tomorrow_are_drafted_and_no_other_day(hot_day, now):
    assert days_wanting_draft(at=now - timedelta(days=2)) == []
    assert days_wanting_draft(at=now - timedelta(days=1)) == [hot_day]
    assert days_wanting_draft(at=now + timedelta(days=1)) == []


def test_hot_readings_narrow_the_interval_and_move_the_start(hot_day, wheel_pair, rider, fitted, now):
    draft(hot_day, at=now)
    before = by_axle(own_lines(rider, hot_day, at=now))["rear"]
    for stint in range(4):
        start = now - timedelta(minutes=200 - 45 * stint)
        log_stint(
            by=SERVICE,
            at=now + timedelta(minutes=stint),
            wheel_pair=wheel_pair,
            day=hot_day,
            started_at=start,
            ended_at=start + timedelta(minutes=20),
            laps=9,
            rear_set_kpa=186.0,
            rear_in_kpa=231.0,
            set_tire_c=39.0,
        )

    draft(hot_day, at=now + timedelta(minutes=5))

    after = by_axle(own_lines(rider, hot_day, at=now))["rear"]
    assert after.readings == 4
    assert after.high_kpa - after.low_kpa < before.high_kpa - before.low_kpa
    assert after.start_kpa < before.start_kpa


def test_a_makers_hot_pressure_is_the_target(hot_day, line, rider, now):
    publish_pressure(
        by=SERVICE, line=line, axle="rear", basis="hot", pressure_kpa=205.0, published_by="Mirrin data sheet"
    )

    draft(hot_day, at=now)

    rear = by_axle(own_lines(rider, hot_day, at=now))["rear"]
    assert (rear.basis, rear.hot_target_kpa) == ("maker hot", 205.0)


def test_reference_notes_stand_in_where_the_maker_says_nothing(hot_day, rear_spec, rider, now):
    for kpa in (212.0, 214.0, 213.0, 260.0):
        note_reference(
            by=SERVICE,
            spec=rear_spec,
            basis="hot",
            pressure_kpa=kpa,
            air_c=36.0,
            track_surface_c=52.0,
            noted_on=now.date(),
            source="paddock talk",
        )

    draft(hot_day, at=now)

    rear = by_axle(own_lines(rider, hot_day, at=now))["rear"]
    assert rear.basis == "reference notes"
    assert 210.0 < rear.hot_target_kpa < 222.0


def test_a_start_never_leaves_the_specs_range_and_the_line_says_so(hot_day, rear_spec, rider, now):
    rear_spec.upper_kpa = 170.0
    rear_spec.save()

    draft(hot_day, at=now)

    rear = by_axle(own_lines(rider, hot_day, at=now))["rear"]
    assert rear.shown_kpa <= 170.0
    assert rear.limit_hit == "upper"


def test_a_rider_sees_the_figure_as_the_own_gauge_reads(hot_day, rider, now):
    draft(hot_day, at=now)
    true_kpa = by_axle(own_lines(rider, hot_day, at=now))["front"].start_kpa
    add_instrument(
        by=SERVICE,
        code="g-1",
        name="pocket gauge",
        kind="pressure",
        rider=rider,
        step_kpa=1.0,
        offset_kpa=6.0,
    )

    assert days_wanting_draft(at=now) == [hot_day]
    draft(hot_day, at=now + timedelta(minutes=1))

    assert by_axle(own_lines(rider, hot_day, at=now))["front"].shown_kpa == pytest.approx(
        true_kpa + 6.0, abs=0.5
    )


def test_off_warmers_the_interval_is_wider_since_the_gas_may_lag_the_setting(hot_day, entry, rider, now):
    draft(hot_day, at=now)
    before = by_axle(own_lines(rider, hot_day, at=now))["front"]
    entry.uses_warmers = True
    entry.save()

    draft(hot_day, at=now)

    after = by_axle(own_lines(rider, hot_day, at=now))["front"]
    assert after.tire_c == 80.0
    assert after.high_kpa - after.low_kpa > before.high_kpa - before.low_kpa
    assert after.start_kpa > before.start_kpa
