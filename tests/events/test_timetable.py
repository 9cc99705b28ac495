"""A timetable typed as text: what each line makes, what a bad one is told, and what setting it changes."""

from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleet.accounts.models import Change
from fleet.accounts.policy import SERVICE
from fleet.errors import Invalid, NotAllowed, NotFound
from fleet.events.actions import (
    add_day,
    add_group,
    begin_like,
    plan_event,
    set_timetable,
    set_up_event,
    timetable_text,
)
from fleet.events.errors import PlanChanged
from fleet.events.models import Day, Event, Group, Layout, Slot, Track
from fleet.events.timetable import read_timetable, text_of

LONDON = ZoneInfo("Europe/London")
FRIDAY = Day(
    date=date(2026, 6, 12), layout=Layout(track=Track(time_zone="Europe/London")), event=Event(name="June")
)
GROUPS = [Group(name="Fast"), Group(name="Medium"), Group(name="Slow, new riders")]


def read(text, day=FRIDAY):
    return read_timetable(text, day=day, groups=GROUPS)


def told(text, day=FRIDAY):
    found = read(text, day)
    return [
        (
            f"{slot.starts_at.astimezone(LONDON):%H:%M}",
            f"{slot.ends_at.astimezone(LONDON):%H:%M}",
            slot.group.name,
        )
        for slot in found.slots
    ], [(fault.line, fault.sentence) for fault in found.faults]


@pytest.mark.parametrize(
    "line",
    [
        "9:00-9:20 Fast",
        "09:00\N{EN DASH}09:20  fast",
        "9.00 to 9.20: FAST",
        "09:00\t09:20\tFast",
        "9:00;9:20;Fast",
        "  9:00 - 9:20, Fast ",
    ],
)
def test_a_line_is_two_times_of_the_tracks_clock_and_a_group(line):
    slots, faults = told(line)

    assert (slots, faults) == ([("09:00", "09:20", "Fast")], [])


def test_groups_share_the_track_and_breaks_and_remarks_are_nobodys():
    slots, faults = told("# morning\n\n9:00-9:20 Fast, Medium\n10:20-11:00 Break, coffee\n11:00-11:30 break")

    assert (slots, faults) == ([("09:00", "09:20", "Fast"), ("09:00", "09:20", "Medium")], [])


@pytest.mark.parametrize(
    ("line", "begins", "ends"),
    [
        ("0900-0920 Fast", "09:00", "09:20"),
        ("9-10 Fast", "09:00", "10:00"),
        ("9 to 10:30 Fast", "09:00", "10:30"),
        ("11:40 am - 12:20 pm Fast", "11:40", "12:20"),
        ("1:20PM-1:40PM: Fast", "13:20", "13:40"),
        ("Fast 9:00-9:20", "09:00", "09:20"),
        ("Fast: 1:20 p.m. to 1:40 p.m.", "13:20", "13:40"),
    ],
)
def test_times_are_read_as_organisers_write_them(line, begins, ends):
    assert told(line) == ([(begins, ends, "Fast")], [])


def test_a_group_called_am_keeps_its_name():
    am = Group(name="AM", event=FRIDAY.event)

    read = read_timetable("9:00\u20139:20 AM", day=FRIDAY, groups=[am])

    assert ([slot.group.name for slot in read.slots], read.faults) == (["AM"], [])


@pytest.mark.parametrize("word", ["break", "Lunch", "briefing, everybody"])
def test_nobody_rides_in_a_break(word):
    assert told(f"12:00-13:00 {word}") == ([], [])


def test_turns_go_round_until_the_end():
    slots, faults = told("9:20-10:20, 20 min each: Medium, Fast")

    assert faults == []
    assert slots == [
        ("09:20", "09:40", "Medium"),
        ("09:40", "10:00", "Fast"),
        ("10:00", "10:20", "Medium"),
    ]


def test_a_group_whose_name_holds_a_comma_is_found_alone():
    assert told("9:00-9:20 slow, new riders") == ([("09:00", "09:20", "Slow, new riders")], [])


@pytest.mark.parametrize(
    ("line", "sentence"),
    [
        ("Fast at nine", "does not begin with two times"),
        ("9:00-9:20", "No group stands after the times"),
        ("9:00-9:20 Fasd", "did you mean Fast?"),
        ("9:00-9:20 Zebra", "the groups are Fast, Medium"),
        ("9:00-9:20 Zebra", "Where nobody rides, write break"),
        ("13:00 pm-1:20 pm Fast", "13:00 pm is no time of the day"),
        ("1260-1300 Fast", "no time of the day"),
        ("10 Fast", "does not begin with two times"),
        ("9:20-9:00 Fast", "ends before it begins"),
        ("9:00-9:00 Fast", "ends before it begins"),
        ("25:00-26:00 Fast", "no time of the day"),
        ("9:00-9:75 Fast", "no time of the day"),
        ("7:00-19:00 Fast", "longer than 8 hours"),
        (
            "9:00-10:10, 20 min each: Fast, Medium",
            "leave 10 min over: let it end 10 min earlier, or 10 min later",
        ),
        ("9:00-9:20, 0 min each: Fast", "A turn lasts 1 min or more"),
        ("9:00-9:20 Fast, fast", "stands twice"),
    ],
)
def test_a_bad_line_says_what_would_be_right_and_the_others_are_read(line, sentence):
    slots, faults = told(f"8:00-8:20 Medium\n{line}")

    assert slots == [("08:00", "08:20", "Medium")]
    assert [number for number, _ in faults] == [2]
    assert sentence in faults[0][1]


def test_a_line_over_another_is_refused_by_the_line_it_meets():
    _, faults = told("9:00-9:20 Fast\n9:20-9:40 Medium\n9:10-9:30 Fast\n9:30-10:00 break")

    assert [(line, sentence.split(":")[0]) for line, sentence in faults] == [
        (3, "This overlaps line 1"),
        (4, "This overlaps line 2"),
    ]


def test_an_hour_the_clock_jumps_over_does_not_exist():
    night = Day(date=date(2026, 3, 29), layout=FRIDAY.layout, event=FRIDAY.event)

    assert "does not exist" in told("1:30-1:50 Fast", night)[1][0][1]
    assert told("2:30-2:50 Fast", night)[1] == []


def test_without_groups_the_line_says_to_add_one():
    assert "no groups yet" in read_timetable("9:00-9:20 Fast", day=FRIDAY, groups=[]).faults[0].sentence


def test_too_much_text_is_refused_as_a_whole():
    assert "at most 300 lines" in told("\n" * 400)[1][0][1]
    assert "at most 400" in told("0:00-23:00, 3 min each: Fast")[1][0][1]


@given(st.text(max_size=200))
def test_no_text_breaks_the_reading(text):
    found = read(text)

    assert all(slot.ends_at > slot.starts_at for slot in found.slots)


@given(
    st.lists(
        st.tuples(st.integers(0, 47), st.sampled_from([0, 1])), unique_by=lambda one: one[0], max_size=20
    )
)
def test_what_is_written_reads_back_as_it_was(parts):
    slots = [
        Slot(
            group=GROUPS[place],
            starts_at=datetime(2026, 6, 12, half // 2, 30 * (half % 2), tzinfo=LONDON),
            ends_at=datetime(2026, 6, 12, half // 2, 30 * (half % 2), tzinfo=LONDON) + timedelta(minutes=20),
        )
        for half, place in sorted(parts)
    ]

    found = read(text_of(slots, zone="Europe/London"))

    assert found.faults == []
    assert [(one.group, one.starts_at, one.ends_at) for one in found.slots] == [
        (slot.group, slot.starts_at, slot.ends_at) for slot in slots
    ]


def planned(day, text):
    found = read_timetable(text, day=day, groups=list(day.event.groups.all()))
    assert found.faults == []
    return found.slots


def test_setting_a_timetable_adds_what_is_new_and_takes_away_what_it_leaves_out(crew, day, slot, event):
    add_group(by=SERVICE, event=event, name="Slow")

    change = set_timetable(by=crew, day=day, planned=planned(day, "12:30-13:00 Fast\n13:00-13:20 Slow"))
    again = set_timetable(by=crew, day=day, planned=planned(day, timetable_text(day)))

    assert (len(change.new), change.kept, len(change.longer_or_shorter), len(change.gone)) == (1, 0, 1, 0)
    assert again.is_nothing
    slot.refresh_from_db()
    assert slot.ends_at - slot.starts_at == timedelta(minutes=30)
    set_timetable(by=crew, day=day, planned=planned(day, "13:00-13:20 Slow"))
    assert Slot.objects.get().group.name == "Slow"
    assert Change.objects.get(row=slot.pk, what="withdrawn").before["starts_at"]


def test_a_changed_timetable_marks_the_day_and_an_equal_one_does_not(crew, day, slot):
    before = Day.objects.get(pk=day.pk).revision

    set_timetable(by=crew, day=day, planned=planned(day, timetable_text(day)))
    equal = Day.objects.get(pk=day.pk).revision
    set_timetable(by=crew, day=day, planned=[])

    assert equal == before
    assert Day.objects.get(pk=day.pk).revision > before


def test_what_somebody_changed_meanwhile_is_not_overwritten(crew, day, slot):
    with pytest.raises(PlanChanged):
        set_timetable(by=crew, day=day, planned=[], seen_revision=0)

    assert Slot.objects.exists()


def test_only_those_who_edit_the_event_set_its_times(inspector, stranger, day):
    with pytest.raises(NotAllowed):
        set_timetable(by=inspector, day=day, planned=[])
    with pytest.raises(NotFound):
        set_timetable(by=stranger, day=day, planned=[])


def test_an_event_is_set_up_in_one_go_or_not_at_all(crew, longfield, layout):
    given = {
        "by": crew, "organiser": longfield, "code": "july", "name": "July", "layout": layout,
        "first_day": date(2026, 7, 4), "days": 2, "groups": [("Fast", 112.0), ("Slow", None)],
    }  # fmt: skip

    event = set_up_event(**given)
    with pytest.raises(Invalid):
        set_up_event(**given | {"code": "aug", "groups": [("Fast", 3.0)]})
    with pytest.raises(Invalid):
        set_up_event(**given | {"code": "sept", "days": 15})

    assert [day.date for day in event.days.order_by("date")] == [date(2026, 7, 4), date(2026, 7, 5)]
    assert Event.objects.filter(code__in=["aug", "sept"]).count() == 0


def test_an_event_begins_like_an_earlier_one_at_the_same_local_times(
    crew, longfield, layout, day, slot, event
):
    winter = plan_event(by=crew, organiser=longfield, code="dec", name="December")
    days = [add_day(by=crew, event=winter, date=date(2026, 12, 5 + n), layout=layout) for n in range(2)]

    faults = begin_like(by=crew, event=winter, earlier=event)

    assert faults == []
    assert (
        [timetable_text(one) for one in days]
        == [timetable_text(day)] * 2
        == ["12:30\N{EN DASH}12:50 Fast"] * 2
    )
    assert days[0].slots.get().starts_at.hour == 12  # winter: the track's clock is that of Greenwich
    assert slot.starts_at.hour == 11


def test_a_strangers_event_is_not_taken_over(crew, longfield, breckside, layout, event):
    mine = plan_event(by=crew, organiser=longfield, code="mine", name="Mine")
    Event.objects.filter(pk=event.pk).update(organiser=breckside)

    with pytest.raises(NotFound):
        begin_like(by=crew, event=mine, earlier=Event.objects.get(pk=event.pk))
