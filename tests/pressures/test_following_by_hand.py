"""A rider reads at home what stands on the wall: a line set by hand goes before the one worked out for them alone, and both are named."""

from datetime import timedelta

import pytest

from fleet.accounts.policy import SERVICE
from fleet.events.actions import record_conditions
from fleet.garage.actions import add_instrument
from fleet.pressures.actions import draft_day, issue_bulletin, set_line_by_hand, withdraw_bulletin
from fleet.pressures.at_the_wheel import ground_for, lines_at, starts_at
from fleet.pressures.followed import lines_to_set
from fleet.pressures.queries import board_lines, own_lines

WHY = "The maker's engineer here asked for it after the first session, director agreed."


@pytest.fixture
def weather(day, now):
    def holds(air_c, later=timedelta()):
        return record_conditions(
            by=SERVICE, at=now + later, day=day, holds_at=now + later, standing="observed", source="thermometer",
            air_c=air_c, track_surface_c=air_c + 12, altimeter_kpa=101.6,
        )  # fmt: skip

    return holds


@pytest.fixture
def draft(weather, entry, fitted, slot, day, now):
    weather(22.0)
    return draft_day(by=SERVICE, at=now, day=day)


@pytest.fixture
def issued_by_hand(draft, director, day, now):
    """The rear at 200 kPa by hand, in bulletin 1."""

    def done(kpa=200.0, reason="felt better this morning"):
        line = board_lines(draft).get(axle="rear")
        set_line_by_hand(by=director, at=now, line=line, set_kpa=kpa, reason=reason)
        return issue_bulletin(by=director, at=now, day=day)

    return done


@pytest.fixture
def to_set(rider, day, now):
    return lambda: {line.axle: line for line in lines_to_set(rider, day, at=now)}


@pytest.fixture
def computed(rider, day, now):
    return lambda: {line.axle: line.shown_kpa for line in own_lines(rider, day, at=now)}


def test_the_riders_line_shows_the_bulletins_figure_and_what_was_worked_out(issued_by_hand, to_set, computed):
    issued_by_hand()

    lines = to_set()

    # 29 psi is the step of half a psi nearest to 200 kPa: 199.95 kPa.
    assert lines["rear"].shown_kpa == pytest.approx(29 * 6.894757, abs=0.01)
    assert lines["rear"].by_hand.computed_kpa == computed()["rear"]
    assert (lines["rear"].by_hand.bulletin, lines["rear"].by_hand.is_beyond_range) == (1, False)
    assert lines["front"].by_hand is None
    assert lines["front"].shown_kpa == computed()["front"]


def test_it_is_shown_as_the_riders_own_gauge_reads_it(issued_by_hand, rider, to_set):
    add_instrument(
        by=SERVICE, code="g-1", name="own", kind="pressure", rider=rider, offset_kpa=6.0, step_kpa=0.5
    )
    issued_by_hand()

    assert to_set()["rear"].shown_kpa == pytest.approx(206.0)


def test_a_draft_alone_changes_no_riders_line_and_a_withdrawn_bulletin_none_any_more(
    issued_by_hand, draft, director, day, now, to_set
):
    line = board_lines(draft).get(axle="rear")
    set_line_by_hand(by=director, at=now, line=line, set_kpa=190.0, reason="to be seen")
    before = to_set()["rear"].by_hand
    bulletin = issue_bulletin(by=director, at=now, day=day)
    while_in_force = to_set()["rear"].by_hand
    withdraw_bulletin(by=director, at=now, bulletin=bulletin, reason="wrong tire")

    assert before is None
    assert while_in_force is not None
    assert to_set()["rear"].by_hand is None


def test_it_stands_over_a_newer_draft_with_the_temperature_it_was_issued_for(
    issued_by_hand, weather, day, now, to_set
):
    issued_by_hand()
    weather(30.0, timedelta(minutes=1))
    draft_day(by=SERVICE, at=now + timedelta(minutes=2), day=day)

    rear = to_set()["rear"]

    assert (rear.tire_c, rear.by_hand.tire_c) == (22.0, 30.0)
    assert rear.shown_kpa == pytest.approx(29 * 6.894757, abs=0.01)


def test_beyond_the_range_it_is_not_pulled_back_and_says_so(issued_by_hand, to_set):
    issued_by_hand(300.0, WHY)

    rear = to_set()["rear"]

    assert rear.shown_kpa == pytest.approx(43.5 * 6.894757, abs=0.01)
    assert rear.by_hand.is_beyond_range


def test_the_bulletin_expects_the_hot_pressure_of_the_figure_by_hand(issued_by_hand, draft):
    """Absolute pressure goes with kelvin at constant volume (OpenStax College Physics, chapter 13), worked here by hand."""
    was = board_lines(draft).get(axle="rear")

    line = next(one for one in issued_by_hand().content["lines"] if one["axle"] == "rear")

    barometer = draft.conditions.barometer_kpa
    hot = (200.0 + barometer) * (was.expected_gas_c + 273.15) / (was.tire_c + 273.15) - barometer
    assert line["expected_hot_kpa"] == pytest.approx(hot, abs=0.01)
    assert line["expected_hot_kpa"] != pytest.approx(was.expected_hot_kpa, abs=1.0)


@pytest.mark.parametrize(("kpa", "reason"), [(200.0, "felt better"), (300.0, WHY)])
def test_the_trailer_goes_through_the_figure_by_hand_too(
    issued_by_hand, rider, entry, rear_spec, day, now, kpa, reason
):
    issued_by_hand(kpa, reason)
    ground = ground_for(rider, entry=entry, day=None, at=now)

    # As for a tire the day's draft has no line for: fitted this minute.
    rear = lines_at(ground, [rear_spec], None)["rear"]
    starts = starts_at(ground, {"rear": rear}, [rear.tire_c, rear.tire_c + 20.0], gauge=None)["rear"]
    shown = starts.shown_on(None, 0.1)

    assert rear.by_hand.bulletin == 1
    assert shown[0] == pytest.approx(rear.shown_kpa, abs=0.1)
    if kpa == 200.0:  # beyond the range a warmer tire is not led further out of it
        assert shown[1] > shown[0] + 10.0
    else:
        assert shown[1] == pytest.approx(shown[0], abs=0.1)
