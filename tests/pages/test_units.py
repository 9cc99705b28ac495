"""Values as people read them."""

from datetime import UTC, date, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleet.accounts.models import Person
from fleet.pages import units
from fleet.pages.charts import Series, life_scale, top_for, tread_chart

SPACE = "\N{NO-BREAK SPACE}"


@pytest.mark.parametrize(
    ("unit", "said"),
    # NIST SP 811 (2008), appendix B.8: 1 psi = 6.894757 kPa, 1 bar = 100 kPa
    [("psi", f"29.0{SPACE}psi"), ("bar", f"2.00{SPACE}bar"), ("kPa", f"200{SPACE}kPa")],
)
def test_a_pressure_is_said_in_the_persons_unit(unit, said):
    assert units.pressure(199.948, Person(pressure_unit=unit)) == said


def test_a_temperature_is_said_in_fahrenheit():
    # NIST SP 811 (2008), appendix B.8: t/°F = 1.8 t/°C + 32
    assert units.temperature(38.0, Person(temperature_unit="F")) == f"100{SPACE}°F"


def test_a_depth_is_said_in_thirty_seconds_of_an_inch():
    # NIST SP 811 (2008), appendix B.8: 1 in = 25.4 mm
    assert units.depth(25.4 * 4 / 32, Person(depth_unit="32nds")) == f"4.0{SPACE}/32 in"


def test_a_distance_is_said_in_miles():
    # NIST SP 811 (2008), appendix B.8: 1 mi = 1.609344 km
    assert units.distance(160.9344, Person(distance_unit="mi")) == f"100{SPACE}mi"


def test_what_is_not_known_is_said_so():
    assert units.depth(None, Person()) == "not known"


@pytest.mark.parametrize(
    ("change_kpa", "said"), [(6.895, "+1.0"), (-3.447, "\N{MINUS SIGN}0.5"), (0.1, "same"), (None, "new")]
)
def test_a_change_carries_its_sign(change_kpa, said):
    assert units.pressure_change(change_kpa, "psi") == said


@pytest.mark.parametrize(
    ("made_on", "said"),
    [
        (date(2026, 6, 1), "under a month old"),
        (date(2026, 5, 1), "1 month old"),
        (date(2025, 6, 10), "12 months old"),
        (date(2021, 6, 12), "5.0 years old"),
        (None, "age not known"),
    ],
)
def test_an_age_is_said_in_months_then_in_years(made_on, said):
    assert units.age(made_on, date(2026, 6, 12)) == said


@pytest.mark.parametrize(("chance", "said"), [(0.001, "1"), (0.42, "42"), (1.0, "99")])
def test_a_probability_never_pretends_to_be_certain(chance, said):
    assert units.share(chance) == f"{said}{SPACE}%"


def test_a_limit_reached_is_no_probability():
    assert units.share(0.0) == "no"


def test_times_are_the_tracks_own():
    moment = datetime(2026, 6, 12, 11, 0, tzinfo=UTC)

    assert units.clock(moment, "Europe/London") == "12:00"
    assert units.day_and_clock(moment, "America/Denver") == "Fri 12 Jun 2026, 05:00"


@given(
    unit=st.sampled_from([*units.PRESSURE.values(), *units.TEMPERATURE.values(), *units.DEPTH.values(), *units.DISTANCE.values()]),
    value=st.floats(-100, 1000),
)  # fmt: skip
def test_a_unit_there_and_back_changes_nothing(unit, value):
    assert unit.stored(unit.shown(value)) == pytest.approx(value, abs=1e-9)


def test_a_scale_holds_its_band_and_says_its_numbers():
    picture = life_scale(1.2, 3.4, 5.6, top_for(5.6), "Front")

    assert "Front: 3.4 days on track left, 10 to 90 % between 1.2 and 5.6" in picture
    assert 'class="band"' in picture
    assert "beyond" not in picture


def test_a_scale_that_is_too_short_says_that_it_goes_on():
    assert "beyond" in life_scale(10, 20, 40, top_for(40), "Rear")


def test_a_tread_chart_marks_every_reading():
    picture = tread_chart(
        [Series("C", [(0, 6.0), (400, 5.1)]), Series("R1", [(400, 5.4)])], 1.0, 6.0, "mm", "km"
    )

    assert picture.count('class="reading"') == 3
    assert 'class="limit"' in picture


def test_words_in_a_chart_are_escaped():
    assert "<script>" not in life_scale(1, 2, 3, 4, "<script>")
