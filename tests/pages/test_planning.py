"""The desk sets an event up: planned in one form, its times typed and looked at, its groups and days mended."""

import pytest
from django.urls import reverse

from fleet.events.actions import timetable_text
from fleet.events.models import Day, Event, Slot


@pytest.fixture
def plan_form(longfield, layout):
    def filled(**changes):
        return {
            "organiser": longfield.pk,
            "name": "July Weekend",
            "layout": layout.pk,
            "first_day": "2026-07-04",
            "days": "2",
            "groups": "Fast, 1:52\nMedium 2:05.5\nGroup 3",
            "takes_entries": "yes",
        } | changes

    return filled


def test_an_event_is_planned_in_one_form(as_, crew, plan_form):
    answer = as_(crew).post(reverse("plan-event"), plan_form(), follow=True)

    event = Event.objects.get()
    assert "July Weekend is planned" in answer.content.decode()
    assert (event.code, event.takes_entries) == ("july-weekend-2026-07-04", True)
    assert [f"{day.date}" for day in event.days.order_by("date")] == ["2026-07-04", "2026-07-05"]
    assert {group.name: group.usual_lap_s for group in event.groups.all()} == {
        "Fast": 112.0,
        "Medium": 125.5,
        "Group 3": None,
    }


def test_an_event_begun_like_an_earlier_one_has_its_groups_and_times(as_, crew, plan_form, event, day, slot):
    as_(crew).post(reverse("plan-event"), plan_form(earlier=event.pk, groups="Novice"))

    made = Event.objects.exclude(pk=event.pk).get()
    assert {group.name for group in made.groups.all()} == {"Novice", "Fast"}
    assert Slot.objects.filter(day__event=made).count() == 2


def test_a_second_event_of_a_name_and_a_day_gets_a_code_of_its_own(as_, crew, plan_form):
    for _ in range(2):
        as_(crew).post(reverse("plan-event"), plan_form())

    assert set(Event.objects.values_list("code", flat=True)) == {
        "july-weekend-2026-07-04",
        "july-weekend-2026-07-04-2",
    }


@pytest.mark.parametrize(
    ("name", "typed", "sentence"),
    [
        ("name", "", "Name of the event is missing"),
        ("layout", "", "Track and layout is missing"),
        ("first_day", "4 July", "no date: give one such as"),
        ("first_day", "0026-07-04", "The year lies between"),
        ("days", "0", "Give 1 or more"),
        ("days", "99", "1 to 14 days"),
        ("groups", "Fast, 9:99", "ends in no lap time"),
        ("groups", "Fast, 2,5", "ends in no lap time"),
        ("groups", "Fast, 0:05", "not plausible"),
        ("groups", "Fast\nfast", "stands twice"),
        ("earlier", "7b7e1f44-6f2c-4e6e-9d8f-0f3e2c1d9a10", "one of your own events"),
    ],
)
def test_what_is_wrong_is_said_and_what_was_typed_is_kept(as_, crew, plan_form, name, typed, sentence):
    answer = as_(crew).post(reverse("plan-event"), plan_form(**{name: typed}))

    page = answer.content.decode()
    assert answer.status_code == 422
    assert sentence in page
    assert "July Weekend" in page or name == "name"
    assert not Event.objects.exists()


def test_times_on_track_are_looked_at_before_they_are_set(as_, crew, day, group, slot):
    client, address = as_(crew), reverse("timetable", args=[day.pk])
    text = "9:00-10:00, 20 min each: Fast"

    standing = timetable_text(day)
    begun = client.get(address).content.decode()
    looked = client.post(address, {"text": text, "look": ""})
    untouched = Slot.objects.count()
    revision = Day.objects.get(pk=day.pk).revision
    answer = client.post(address, {"text": text, "set": "", "seen": revision}, follow=True)

    assert standing in begun
    assert "3 new, 0 as it is, 1 that goes" in " ".join(looked.content.decode().split())
    assert untouched == 1
    assert "are set" in answer.content.decode()
    assert Slot.objects.count() == 3


def test_a_bad_line_sets_nothing_and_keeps_the_text(as_, crew, day, group):
    text = "9:00-9:20 Fast\n9:20-9:40 Fsat"

    answer = as_(crew).post(reverse("timetable", args=[day.pk]), {"text": text, "set": "", "seen": "1"})

    page = answer.content.decode()
    assert answer.status_code == 422
    assert ": There is no group “Fsat”: did you mean Fast?" in page
    assert "Line 2, “9:20-9:40 Fsat”: " in page
    assert "9:20-9:40 Fsat" in page
    assert not Slot.objects.exists()


def test_times_somebody_changed_meanwhile_are_shown_again(as_, crew, day, group):
    answer = as_(crew).post(
        reverse("timetable", args=[day.pk]), {"text": "9:00-9:20 Fast", "set": "", "seen": "0"}
    )

    assert answer.status_code == 422
    assert "changed since you looked" in answer.content.decode()
    assert not Slot.objects.exists()


def test_another_days_times_come_into_the_field(as_, crew, event, layout, day, slot):
    other = Day.objects.create(event=event, date="2026-06-13", layout=layout)
    client = as_(crew)

    page = client.get(reverse("timetable", args=[other.pk]), {"like": day.pk}).content.decode()
    nonsense = client.get(reverse("timetable", args=[other.pk]), {"like": "nonsense"})

    assert timetable_text(day) in page
    assert nonsense.status_code == 200
    assert Slot.objects.count() == 1


def test_an_event_is_mended_and_given_days_and_groups(as_, crew, event, group, layout):
    client, address = as_(crew), reverse("event", args=[event.pk])

    client.post(address, {"name": "Longfield Friday", "takes_entries": "yes"})
    client.post(reverse("add-group", args=[event.pk]), {"group-name": "Slow", "group-usual_lap_s": "2:20"})
    client.post(reverse("add-day", args=[event.pk]), {"day-date": "2026-06-20", "day-layout": layout.pk})
    prefix = f"g{group.pk.hex[:8]}"
    client.post(
        reverse("mend-group", args=[event.pk, group.pk]),
        {f"{prefix}-name": "Quick", f"{prefix}-usual_lap_s": ""},
    )

    event.refresh_from_db()
    assert (event.name, event.takes_entries) == ("Longfield Friday", True)
    assert {one.name: one.usual_lap_s for one in event.groups.all()} == {"Quick": None, "Slow": 140.0}
    assert event.days.count() == 1


def test_a_group_refused_is_shown_where_it_was_typed(as_, crew, event, group):
    answer = as_(crew).post(reverse("add-group", args=[event.pk]), {"group-name": "Fast"})

    assert answer.status_code == 422
    assert "exists" in answer.content.decode()


@pytest.mark.parametrize("route", ["event", "add-day", "add-group"])
def test_another_organisers_event_is_not_there(as_, crew, breckside, event, route):
    Event.objects.filter(pk=event.pk).update(organiser=breckside)

    assert as_(crew).post(reverse(route, args=[event.pk])).status_code == 404


def test_inspectors_read_an_event_and_change_nothing(as_, inspector, event, day):
    client = as_(inspector)

    page = client.get(reverse("event", args=[event.pk])).content.decode()

    assert "Add a day" not in page
    assert (
        client.post(reverse("event", args=[event.pk]), {"name": "x", "takes_entries": "no"}).status_code
        == 403
    )
    assert client.get(reverse("timetable", args=[day.pk])).status_code == 403
    assert client.get(reverse("plan-event")).status_code == 403
