"""Start pressures by part of the day: each under its own weather, and for whoever rides then."""

from datetime import UTC, datetime, timedelta

import pytest

from fleet.accounts.policy import SERVICE
from fleet.events.actions import add_group, add_slot, correct_day, correct_entry, record_conditions
from fleet.events.models import DayParts
from fleet.pressures.actions import issue_bulletin, set_line_by_hand
from fleet.pressures.afterwards import promises_kept
from fleet.pressures.followed import lines_to_set
from fleet.pressures.guidance import draft
from fleet.pressures.queries import board_lines, days_wanting_draft, own_lines
from fleet.pressures.told import lines_told_at, parts_of
from fleet.running.actions import log_stint


def clock(hour, minute=0):
    """Return a moment of the day as the track's clock shows it, which is an hour ahead of UTC in June."""
    return datetime(2026, 6, 12, hour - 1, minute, tzinfo=UTC)


EVENING_BEFORE = clock(20) - timedelta(days=1)
AIR_C = {"morning": 18.0, "midday": 26.0, "afternoon": 31.0}


@pytest.fixture
def riding(day, group, entry, fitted):
    """Robin rides from nine to five, off warmers: their figure goes with the air, which a tire set at air temperature does not."""
    for hour in range(9, 17):
        add_slot(by=SERVICE, day=day, group=group, starts_at=clock(hour), ends_at=clock(hour, 20))
    correct_entry(by=SERVICE, entry=entry, uses_warmers=True)
    return entry


@pytest.fixture
def forecast(day, riding):
    for hour, air_c in zip((9, 12, 16), AIR_C.values(), strict=True):
        record_conditions(
            by=SERVICE, at=EVENING_BEFORE, day=day, holds_at=clock(hour), standing="forecast", source="made up",
            air_c=air_c, track_surface_c=air_c + 10.0, barometer_kpa=101.2,
        )  # fmt: skip
    day.refresh_from_db()
    return day


@pytest.fixture
def drafted(forecast):
    return draft(forecast, at=EVENING_BEFORE)


def rear(lines):
    return next(line for line in lines if line.axle == "rear")


def test_each_part_has_its_lines_under_its_own_weather(drafted):
    rears = [line for line in board_lines(drafted) if line.axle == "rear"]

    assert [(line.part.name, line.part.conditions.air_c) for line in rears] == list(AIR_C.items())


def test_off_warmers_a_warmer_afternoon_starts_lower_since_it_ends_hotter(drafted):
    morning, midday, afternoon = (line for line in board_lines(drafted) if line.axle == "rear")

    assert morning.expected_gas_c < midday.expected_gas_c < afternoon.expected_gas_c
    assert morning.start_kpa > midday.start_kpa > afternoon.start_kpa


def test_a_part_is_worked_out_as_a_day_of_that_weather_alone_would_be(drafted, forecast):
    midday = [line for line in board_lines(drafted) if line.axle == "rear"][1]
    for row in forecast.conditions.exclude(holds_at=clock(12)):
        row.voided_at, row.void_reason = EVENING_BEFORE, "to compare"
        row.save()
    forecast.revision += 1
    forecast.save()

    alone = rear(board_lines(draft(forecast, at=EVENING_BEFORE + timedelta(minutes=1))))

    assert alone.part.name == ""
    assert midday.start_kpa == alone.start_kpa
    assert midday.high_kpa - midday.low_kpa < alone.high_kpa - alone.low_kpa  # three hours, and not eight


def test_a_rider_reads_the_part_at_hand_with_those_for_later_behind_it(drafted, rider, day):
    now = rear(own_lines(rider, day, at=clock(12, 30)))

    assert now.part.name == "midday"
    assert [line.part.name for line in now.later] == ["afternoon"]


def test_before_the_day_a_rider_reads_its_first_part_and_after_it_the_last(drafted, rider, day):
    assert rear(own_lines(rider, day, at=EVENING_BEFORE)).part.name == "morning"
    assert rear(own_lines(rider, day, at=clock(20))).part.name == "afternoon"


def test_a_group_has_lines_in_the_parts_it_rides_in(forecast, event, entry):
    early = add_group(by=SERVICE, event=event, name="Early")
    add_slot(by=SERVICE, day=forecast, group=early, starts_at=clock(9, 30), ends_at=clock(9, 50))
    correct_entry(by=SERVICE, entry=entry, group=early)

    found = draft(forecast, at=EVENING_BEFORE)

    assert {line.part.name for line in board_lines(found)} == {"morning"}


def test_when_a_part_is_over_the_next_draft_leaves_it_out(drafted, forecast):
    assert days_wanting_draft(at=clock(10)) == []
    assert days_wanting_draft(at=clock(11)) == [forecast]

    later = draft(forecast, at=clock(11))

    assert [part.name for part in later.parts.all()] == ["midday", "afternoon"]


def test_the_crew_gets_every_hour_where_it_asks_for_it(drafted, forecast):
    correct_day(by=SERVICE, day=forecast, parts=DayParts.HOURS)

    names = [part.name for part in draft(forecast, at=EVENING_BEFORE + timedelta(minutes=1)).parts.all()]

    assert names == ["09:00\N{EN DASH}11:00", "11:00\N{EN DASH}14:00", "14:00\N{EN DASH}17:00"]


def test_a_bulletin_says_of_each_line_which_part_it_is_for(drafted, director, day):
    content = issue_bulletin(by=director, at=EVENING_BEFORE, day=day).content

    assert [part.name for part in parts_of(content)] == list(AIR_C)
    assert [part.conditions["air_c"] for part in parts_of(content)] == list(AIR_C.values())
    assert {line["part"] for line in lines_told_at(content, clock(15))} == {"afternoon"}


def test_a_bulletin_issued_before_there_were_parts_has_the_whole_day(drafted, director, day):
    content = issue_bulletin(by=director, at=EVENING_BEFORE, day=day).content
    del content["parts"]
    for line in content["lines"]:
        del line["part"]

    (whole,) = parts_of(content)

    assert (whole.name, whole.conditions) == ("", content["conditions"])
    assert lines_told_at(content, clock(15)) == content["lines"]


def test_what_is_set_by_hand_for_the_afternoon_is_followed_in_the_afternoon(drafted, director, rider, day):
    afternoon = [line for line in board_lines(drafted) if line.axle == "rear"][2]
    set_line_by_hand(by=director, at=EVENING_BEFORE, line=afternoon, set_kpa=190.0, reason="grip is low then")
    issue_bulletin(by=director, at=EVENING_BEFORE, day=day)

    morning = rear(lines_to_set(rider, day, at=clock(9)))

    assert morning.by_hand is None
    assert [line.by_hand and line.by_hand.set_kpa for line in morning.later] == [None, 190.0]
    assert rear(lines_to_set(rider, day, at=clock(15))).by_hand.set_kpa == 190.0


def test_by_hand_for_the_whole_day_stands_in_each_part_a_later_forecast_tells_apart(day, riding, director):
    def report(hour, air_c):
        record_conditions(
            by=SERVICE, at=EVENING_BEFORE, day=day, holds_at=clock(hour), standing="forecast", source="made up",
            air_c=air_c, barometer_kpa=101.2,
        )  # fmt: skip

    report(9, 18.0)
    whole = rear(board_lines(draft(day, at=EVENING_BEFORE)))
    set_line_by_hand(by=director, at=EVENING_BEFORE, line=whole, set_kpa=190.0, reason="as last year")
    report(12, 26.0)
    report(16, 31.0)

    found = draft(day, at=EVENING_BEFORE + timedelta(minutes=1))

    rears = [line for line in board_lines(found) if line.axle == "rear"]
    assert [(line.part.name, line.override.set_kpa) for line in rears] == [(name, 190.0) for name in AIR_C]


def test_by_hand_for_one_part_does_not_spread_over_a_day_that_is_one_again(drafted, forecast, director):
    morning = rear(board_lines(drafted))
    set_line_by_hand(by=director, at=EVENING_BEFORE, line=morning, set_kpa=190.0, reason="cold track")
    forecast.conditions.exclude(holds_at=clock(9)).update(voided_at=EVENING_BEFORE, void_reason="other place")
    forecast.revision += 1
    forecast.save()

    whole = rear(board_lines(draft(forecast, at=EVENING_BEFORE + timedelta(minutes=1))))

    assert not hasattr(whole, "override")


def test_a_line_is_compared_with_what_the_bulletin_said_for_its_time(drafted, forecast, director):
    issue_bulletin(by=director, at=EVENING_BEFORE, day=forecast)
    record_conditions(
        by=SERVICE, at=clock(8), day=forecast, holds_at=clock(16), standing="forecast", source="newer",
        air_c=22.0, track_surface_c=32.0, barometer_kpa=101.2,
    )  # fmt: skip

    rears = [line for line in board_lines(draft(forecast, at=clock(8))) if line.axle == "rear"]

    assert [(line.part.name, line.moved_because) for line in rears] == [
        ("morning", ""),
        ("midday", ""),
        ("afternoon", "weather"),
    ]


def test_a_draft_asks_as_often_for_hours_as_for_a_whole_day(
    day, riding, director, django_assert_max_num_queries
):
    def drafted_at(moment):
        with django_assert_max_num_queries(100) as asked:
            draft(day, at=moment)
        return sum(not one["sql"].startswith("INSERT") for one in asked.captured_queries)

    def report(hour):
        record_conditions(
            by=SERVICE, at=EVENING_BEFORE, day=day, holds_at=clock(hour), standing="forecast", source="made up",
            air_c=10.0 + hour, barometer_kpa=101.2,
        )  # fmt: skip

    report(9)
    draft(day, at=EVENING_BEFORE)
    issue_bulletin(by=director, at=EVENING_BEFORE, day=day)
    report(9)
    draft(day, at=EVENING_BEFORE + timedelta(minutes=1))
    report(9)
    whole = drafted_at(EVENING_BEFORE + timedelta(minutes=2))
    for hour in range(10, 17):
        report(hour)
    correct_day(by=SERVICE, day=day, parts=DayParts.HOURS)

    assert drafted_at(EVENING_BEFORE + timedelta(minutes=3)) == whole
    assert day.guidances.get(is_newest=True).parts.count() == 8


def test_a_hot_reading_counts_against_the_part_its_stint_began_in(drafted, director, day, wheel_pair, now):
    bulletin = issue_bulletin(by=director, at=EVENING_BEFORE, day=day)
    told = next(line for line in lines_told_at(bulletin.content, clock(12)) if line["axle"] == "rear")
    log_stint(
        by=SERVICE, at=clock(12, 30), wheel_pair=wheel_pair, day=day, started_at=clock(12), ended_at=clock(12, 20), laps=9,
        rear_set_kpa=told["shown_kpa"], rear_in_kpa=told["expected_hot_kpa"] + 3.0, set_tire_c=80.0,
    )  # fmt: skip

    (promise,) = promises_kept(director, day, at=clock(18))

    assert (promise.part, promise.expected_kpa) == ("midday", told["expected_hot_kpa"])
    assert promise.off_kpa == [pytest.approx(3.0)]
