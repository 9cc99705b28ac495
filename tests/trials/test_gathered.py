"""Reference notes count by how alike their day was, as the science weighs them, and stand beside the maker's figures."""

import math
from datetime import timedelta

import pytest

from fleet.accounts.policy import SERVICE
from fleet.catalogue.actions import gather_note, note_reference, publish_pressure
from fleet.events.models import Conditions
from fleet.pressures.targets import targets_for
from fleet.trials.gathered import gathered_for


@pytest.fixture
def notes(rear_spec, now):
    for pressure_kpa, air_c, track_c, days in ((218.0, 20.0, 30.0, 0), (224.0, 28.0, 42.0, 730)):
        note_reference(
            by=SERVICE,
            spec=rear_spec,
            basis="hot",
            pressure_kpa=pressure_kpa,
            air_c=air_c,
            track_surface_c=track_c,
            noted_on=now.date() - timedelta(days=days),
            source="paddock talk",
        )


@pytest.fixture
def known(longfield, now):
    def do(spec, *, testing=longfield, **asked):
        weather = {"air_c": 20.0, "track_surface_c": 30.0, "barometer_kpa": 101.325} | asked
        return gathered_for([spec], testing=testing, on=now.date(), **weather)[0]

    return do


def test_a_note_counts_by_the_bell_curves_of_its_differences(known, notes, rear_spec, now):
    """By hand: pace is not told (one scale); the other note is one scale off in air, track and age each."""
    older, alike = known(rear_spec).notes

    assert alike.weight == pytest.approx(math.exp(-0.5))
    assert older.weight == pytest.approx(math.exp(-0.5 * 4))


def test_the_pooled_figure_lies_nearest_to_the_note_of_a_like_day(known, notes, rear_spec, now):
    cool, warm = (known(rear_spec, air_c=air, track_surface_c=track) for air, track in ((20, 30), (28, 42)))

    assert 218.0 < cool.pooled.hot_kpa < warm.pooled.hot_kpa < 224.0
    assert cool.low_kpa < cool.pooled.hot_kpa < cool.high_kpa


def test_the_start_pressure_is_that_of_the_gas_law(known, notes, rear_spec, now):
    """Amontons's law: absolute pressure goes with kelvin at constant volume (OpenStax University Physics 2, 2.1)."""
    found = known(rear_spec)
    hot_k, start_k = 273.15 + 20.0 + found.practice_rise_c, 273.15 + 20.0

    assert found.start_kpa == pytest.approx(
        (found.target_kpa + 101.325) * start_k / hot_k - 101.325, abs=1e-6
    )


def test_the_makers_figure_stands_beside_and_comes_first(known, notes, line, rear_spec, now):
    publish_pressure(
        by=SERVICE,
        line=line,
        spec=rear_spec,
        axle="rear",
        basis="hot",
        pressure_kpa=200.0,
        published_by="Mirrin",
    )

    found = known(rear_spec)

    assert [row.pressure_kpa for row in found.published] == [200.0]
    assert (found.target_kpa, found.basis) == (200.0, "maker hot")
    assert found.has_pooled


def test_a_start_pressure_stays_within_the_makers_range(known, rear_spec, now):
    rear_spec.lower_kpa, rear_spec.upper_kpa = 210.0, 230.0

    found = known(rear_spec)

    assert (found.start_kpa, found.limit_hit) == (210.0, "lower")


def test_without_notes_nothing_is_pooled_and_practice_answers(known, rear_spec, now):
    found = known(rear_spec)

    assert found.notes == ()
    assert not found.has_pooled
    assert found.basis == "practice"


def test_what_testers_gathered_counts_in_their_own_tests_and_in_nobodys_guidance(
    known, notes, rear_spec, longfield, tarn, tester, now
):
    before = known(rear_spec)
    gather_note(
        by=tester,
        at=now,
        organisation=longfield,
        spec=rear_spec,
        basis="hot",
        pressure_kpa=240.0,
        air_c=20.0,
        track_surface_c=30.0,
        noted_on=now.date(),
        source="a notebook",
    )

    ours, theirs = known(rear_spec), known(rear_spec, testing=tarn)
    everybodys = targets_for(
        [rear_spec], conditions=[Conditions(air_c=20.0, track_surface_c=30.0)], on=now.date()
    )

    assert len(ours.notes) == 3
    assert ours.pooled.hot_kpa > before.pooled.hot_kpa
    assert ours.target_kpa == pytest.approx(ours.pooled.hot_kpa)
    assert theirs.pooled == before.pooled
    assert float(everybodys.hot_kpa[0]) == pytest.approx(before.pooled.hot_kpa)
