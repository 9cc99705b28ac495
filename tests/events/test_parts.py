"""A day in its parts: which times they have, which weather they go by, and what is told apart at all."""

from datetime import UTC, date, datetime, timedelta

import pytest

from fleet.accounts.policy import SERVICE
from fleet.events.actions import add_group, add_slot, correct_day, record_conditions
from fleet.events.models import DayParts, Slot
from fleet.events.parts import part_at, parts_ahead

DASH = "\N{EN DASH}"
EVENING_BEFORE = datetime(2026, 6, 11, 20, 0, tzinfo=UTC)


def clock(hour, minute=0):
    """Return a moment of the day as the track's clock shows it, which is an hour ahead of UTC in June."""
    return datetime(2026, 6, 12, hour - 1, minute, tzinfo=UTC)


@pytest.fixture
def weather(day):
    def at(hour, air_c, *, standing="forecast", minute=0, recorded_at=EVENING_BEFORE):
        return record_conditions(
            by=SERVICE, at=max(recorded_at, clock(hour, minute)) if standing == "observed" else recorded_at, day=day,
            holds_at=clock(hour, minute), standing=standing, source="made up", air_c=air_c, barometer_kpa=101.2,
        )  # fmt: skip

    return at


@pytest.fixture
def slots(day, group):
    """Every hour from nine to five, twenty minutes each."""
    for hour in range(9, 17):
        add_slot(by=SERVICE, day=day, group=group, starts_at=clock(hour), ends_at=clock(hour, 20))


@pytest.fixture
def forecast(weather):
    """An hourly forecast, a degree warmer every hour."""
    for hour in range(8, 18):
        weather(hour, 10.0 + hour)


def told(parts):
    return [(part.name, part.conditions.air_c) for part in parts]


def test_without_weather_a_day_has_no_parts(day, slots):
    assert parts_ahead(day, at=clock(8)) == []


def test_one_report_alone_tells_nothing_apart(day, slots, weather):
    weather(7, 15.0, standing="observed")

    (whole,) = parts_ahead(day, at=clock(7, 30))

    assert (whole.name, whole.conditions.air_c) == ("", 15.0)
    assert (whole.ridden_from, whole.ridden_to, whole.hours_ridden) == (
        clock(9),
        clock(16, 20),
        pytest.approx(7 + 1 / 3),
    )


def test_a_forecast_gives_morning_midday_and_afternoon_the_weather_of_their_middle(day, slots, forecast):
    # The evening before, the first part goes by what is nearest to the first slot; of two reports as near, by the earlier.
    assert told(parts_ahead(day, at=EVENING_BEFORE)) == [
        ("morning", 19.0),
        ("midday", 22.0),
        ("afternoon", 25.0),
    ]


def test_parts_follow_each_other_from_midnight_to_midnight(day, slots, forecast):
    parts = parts_ahead(day, at=EVENING_BEFORE)

    assert parts[0].starts_at == clock(1) - timedelta(hours=1)
    assert (
        [part.ends_at for part in parts[:-1]]
        == [part.starts_at for part in parts[1:]]
        == [clock(11), clock(14)]
    )
    assert parts[-1].ends_at - parts[0].starts_at == timedelta(days=1)


def test_the_part_at_hand_goes_by_a_fresh_observation_and_those_to_come_by_the_forecast(
    day, slots, forecast, weather
):
    weather(11, 31.0, standing="observed", minute=30)

    assert told(parts_ahead(day, at=clock(12))) == [("midday", 31.0), ("afternoon", 25.0)]


def test_what_is_over_is_left_out_and_the_last_part_stays(day, slots, forecast):
    assert [part.name for part in parts_ahead(day, at=clock(12))] == ["midday", "afternoon"]
    assert [part.name for part in parts_ahead(day, at=clock(15))] == [""]
    assert [part.name for part in parts_ahead(day, at=clock(23) + timedelta(days=1))] == [""]


def test_parts_under_one_weather_are_one(day, slots, weather):
    weather(9, 18.0)
    weather(15, 27.0)

    # Half past twelve is three and a half hours from nine, and two and a half from three.
    assert told(parts_ahead(day, at=EVENING_BEFORE)) == [("morning", 18.0), ("midday and afternoon", 27.0)]


def test_every_hour_is_a_part_where_the_crew_wants_it(day, slots, forecast):
    correct_day(by=SERVICE, day=day, parts=DayParts.HOURS)

    parts = parts_ahead(day, at=clock(13, 10))

    assert [part.name for part in parts] == ["13:00", "14:00", "15:00", "16:00"]
    assert [part.conditions.air_c for part in parts] == [23.0, 24.0, 25.0, 26.0]


def test_hours_under_one_weather_are_named_from_to(day, slots, weather):
    correct_day(by=SERVICE, day=day, parts=DayParts.HOURS)
    weather(9, 18.0)
    weather(15, 27.0)

    assert [part.name for part in parts_ahead(day, at=EVENING_BEFORE)] == [
        f"09:00{DASH}12:00",
        f"12:00{DASH}17:00",
    ]


def test_a_part_knows_the_groups_that_ride_in_it(day, event, group, slots, forecast):
    early = add_group(by=SERVICE, event=event, name="Early")
    add_slot(by=SERVICE, day=day, group=early, starts_at=clock(9, 30), ends_at=clock(9, 50))

    parts = parts_ahead(day, at=EVENING_BEFORE)

    assert [part.groups for part in parts] == [{group.pk, early.pk}, {group.pk}, {group.pk}]


def test_without_a_timetable_the_usual_hours_are_taken(day, forecast):
    parts = parts_ahead(day, at=EVENING_BEFORE)

    assert (parts[0].ridden_from, parts[-1].ridden_to) == (clock(9), clock(17))
    assert [part.groups for part in parts] == [frozenset()] * len(parts)


def test_an_afternoon_alone_is_cut_as_one(day, group, forecast):
    add_slot(by=SERVICE, day=day, group=group, starts_at=clock(14, 30), ends_at=clock(16))

    assert [part.name for part in parts_ahead(day, at=EVENING_BEFORE)] == [""]


def test_a_moment_is_in_its_part_before_all_in_the_first_and_after_all_in_the_last(day, slots, forecast):
    parts = parts_ahead(day, at=EVENING_BEFORE)

    assert [part_at(parts, moment).name for moment in (EVENING_BEFORE, clock(11), clock(13, 59), clock(23) + timedelta(days=2))] == [
        "morning", "midday", "midday", "afternoon",
    ]  # fmt: skip


def test_a_voided_report_guides_no_part(day, slots, forecast):
    noon = day.conditions.get(holds_at=clock(12))
    day.conditions.filter(pk=noon.pk).update(voided_at=EVENING_BEFORE, void_reason="typed wrong")

    assert dict(told(parts_ahead(day, at=EVENING_BEFORE)))["midday"] == 23.0


def test_the_day_is_that_of_the_track(day):
    assert day.date == date(2026, 6, 12)
    assert day.layout.track.time_zone == "Europe/London"


def test_slots_left_on_another_date_by_a_mended_time_zone_leave_one_part(day, group, forecast):
    then = clock(9) - timedelta(days=1)
    Slot.objects.create(day=day, group=group, starts_at=then, ends_at=then + timedelta(minutes=20))

    (whole,) = parts_ahead(day, at=clock(9))

    assert whole.name == ""
    assert whole.ends_at - whole.starts_at == timedelta(days=1)
