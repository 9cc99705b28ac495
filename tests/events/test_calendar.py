"""A rider's times on track as iCalendar: what RFC 5545 asks of each line, and who may read it.

Sources: RFC 5545 sections 3.1 (lines end with CRLF, at most 75 octets, folded with a space), 3.3.5 (form 2, UTC), 3.3.11
(backslash, semicolon, comma and line breaks are escaped), 3.6 and 3.6.1 (PRODID and VERSION; UID and DTSTAMP), and RFC 7986.
"""

import re
from datetime import UTC, date, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleet.accounts.models import Change
from fleet.accounts.policy import SERVICE
from fleet.errors import NotFound
from fleet.events.actions import close_calendar, open_calendar
from fleet.events.calendar import calendar_of
from fleet.events.models import CalendarLink, Day, Entry, Event, Group, Layout, Slot, Track
from fleet.events.queries import calendar_entries, rider_of_calendar
from fleet.garage.models import Bike, Rider

NOW = datetime(2026, 6, 12, 11, 0, tzinfo=UTC)
ADDRESS = "https://tires.example.org/b/{}/"


def unfolded(data):
    """Return name and value of every content line, folded ones joined (RFC 5545, 3.1)."""
    text = data.decode()
    assert text.endswith("\r\n")
    lines = text.removesuffix("\r\n").split("\r\n")
    assert all(len(line.encode()) <= 75 for line in lines)
    assert not re.search(r"[\r\n]", "".join(lines))
    whole = []
    for line in lines:
        if line.startswith((" ", "\t")):
            whole[-1] += line[1:]
        else:
            whole.append(line)
    return [tuple(line.split(":", 1)) for line in whole]


def value_of(lines, name):
    return [value for key, value in lines if key.split(";")[0] == name]


def test_each_slot_of_the_riders_group_is_an_event_in_utc(rider, entry, slot, now):
    lines = unfolded(calendar_of(rider, calendar_entries(rider, at=now), at=now, address=ADDRESS))

    assert value_of(lines, "BEGIN") == ["VCALENDAR", "VEVENT"]
    assert value_of(lines, "VERSION") == ["2.0"]
    assert len(value_of(lines, "PRODID")) == 1
    assert value_of(lines, "DTSTART") == ["20260612T113000Z"]
    assert value_of(lines, "DTEND") == ["20260612T115000Z"]
    assert value_of(lines, "DTSTAMP") == ["20260612T110000Z"]
    assert value_of(lines, "SUMMARY") == ["Fast on track\\, Longfield June Friday"]
    assert value_of(lines, "URL") == [ADDRESS.format(entry.day.public_code)]
    assert value_of(lines, "REFRESH-INTERVAL") == ["PT15M"]


def test_a_day_without_times_is_shown_as_a_whole_day(rider, entry, now):
    lines = unfolded(calendar_of(rider, calendar_entries(rider, at=now), at=now, address=ADDRESS))

    assert ("DTSTART;VALUE=DATE", "20260612") in lines
    assert ("DTEND;VALUE=DATE", "20260613") in lines  # the end is not part of it (RFC 5545, 3.6.1)


def test_an_event_keeps_its_uid_when_its_time_moves(rider, entry, slot, now):
    def uid():
        lines = unfolded(calendar_of(rider, calendar_entries(rider, at=now), at=now, address=ADDRESS))
        return value_of(lines, "UID")

    before = uid()
    Slot.objects.filter(pk=slot.pk).update(starts_at=slot.starts_at - timedelta(minutes=5))

    assert uid() == before


@given(
    st.text(st.characters(exclude_categories=["Cs", "Cc"]), min_size=1, max_size=200)
    | st.sampled_from(["a;b,c\\d", "one\\ntwo", "\N{SNOWMAN}" * 60])
)
def test_any_name_is_escaped_and_folded_so_that_it_reads_back(name):
    track = Track(time_zone="UTC", name="Marram Point Circuit")
    day = Day(date=date(2026, 6, 12), event=Event(name=name), layout=Layout(track=track, name="Full"))
    entry = Entry(
        day=day, rider=Rider(), bike=Bike(description="600 sport"), group=Group(name="Fast"), number="7"
    )
    entry.own_slots = []

    data = calendar_of(Rider(name=name), [entry], at=NOW, address=ADDRESS)

    [summary] = value_of(unfolded(data), "SUMMARY")
    assert re.sub(r"\\([\\;,])", r"\1", summary) == f"{name}, times not set yet"


def test_other_riders_and_other_groups_are_not_in_it(rider, other_rider, entry, slot, event, day, now):
    slow = Group.objects.create(event=event, name="Slow")
    Slot.objects.create(day=day, group=slow, starts_at=now, ends_at=now + timedelta(minutes=20))

    data = calendar_of(rider, calendar_entries(rider, at=now), at=now, address=ADDRESS)

    assert data.count(b"BEGIN:VEVENT") == 1
    assert calendar_entries(other_rider, at=now) == []


def test_days_long_past_leave_the_calendar(rider, entry, now):
    assert calendar_entries(rider, at=now + timedelta(days=29)) == [entry]
    assert calendar_entries(rider, at=now + timedelta(days=32)) == []


def test_an_address_opens_one_riders_times_until_it_ends(rider, rider_person, now):
    link, token = open_calendar(by=rider_person, at=now, rider=rider)
    opened = rider_of_calendar(token)
    close_calendar(by=rider_person, at=now, rider=rider)

    assert opened == rider
    assert rider_of_calendar(token) is None
    assert rider_of_calendar("") is None
    assert token not in str(list(CalendarLink.objects.values())) + str(list(Change.objects.values()))
    assert [line.what for line in Change.objects.filter(row=link.pk).order_by("what")] == ["made", "revoked"]


def test_a_new_address_ends_the_earlier_one(rider, rider_person, now):
    _, first = open_calendar(by=rider_person, at=now, rider=rider)
    _, second = open_calendar(by=rider_person, at=now, rider=rider)

    assert rider_of_calendar(first) is None
    assert rider_of_calendar(second) == rider


@pytest.mark.parametrize("who", ["crew", "fitter", "stranger"])
def test_nobody_else_makes_or_ends_it(request, rider, rider_person, who, now):
    _, token = open_calendar(by=rider_person, at=now, rider=rider)
    other = request.getfixturevalue(who)

    with pytest.raises(NotFound):
        open_calendar(by=other, at=now, rider=rider)
    with pytest.raises(NotFound):
        close_calendar(by=other, at=now, rider=rider)

    assert rider_of_calendar(token) == rider
    close_calendar(by=SERVICE, at=now, rider=rider)


def test_more_days_ask_the_database_no_more_often(rider, entry, slot, now, django_assert_num_queries):
    with django_assert_num_queries(2):
        calendar_entries(rider, at=now)
