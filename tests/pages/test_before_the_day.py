"""The evening before: the day's page says what is still to do, groups stand by pace, and lists say what is not known."""

import pytest
from django.urls import reverse

from fleet.accounts.policy import SERVICE
from fleet.events.actions import add_day, add_group
from fleet.events.queries import by_pace


@pytest.fixture
def seen(as_, crew, day):
    def do(route="day", by=crew):
        return as_(by).get(reverse(route, args=[day.pk])).content.decode()

    return do


def test_a_new_day_says_what_is_still_to_do_and_leads_there(seen, day):
    page = seen()

    assert "Still to do" in page
    assert "No groups yet" in page
    assert reverse("event", args=[day.event_id]) in page
    assert "Nobody is entered yet" in page


def test_what_is_done_is_not_asked_for_any_more(seen, day, group, entry):
    page = seen()

    assert "No times on track yet" in page
    assert "Set the times" in page
    assert "Bring in a roster" not in page


def test_a_day_with_all_of_it_and_one_that_is_over_have_nothing_to_do(
    as_, crew, seen, day, slot, entry, layout
):
    whole = seen()
    before = add_day(
        by=SERVICE, event=day.event, date=day.date.replace(year=day.date.year - 1), layout=layout
    )

    assert "Still to do" not in whole
    assert "Still to do" not in as_(crew).get(reverse("day", args=[before.pk])).content.decode()


def test_only_those_who_plan_are_told_what_is_to_do(seen, inspector, day):
    assert "Still to do" not in seen(by=inspector)


def test_bikes_of_which_nothing_is_known_are_counted(seen, entry):
    page = seen()

    assert "No entrant rides on a tire that is near its end" in page
    assert "1 of 1 bikes has no logged tires" in page


def test_bikes_with_logged_tires_are_not(seen, entry, assessed):
    assert "no logged tires" not in seen()


def test_groups_stand_by_pace_and_one_without_a_lap_comes_last(as_, crew, day, event):
    for name, lap in (("Open", None), ("Slow", 140), ("Quick", 105)):
        add_group(by=SERVICE, event=event, name=name, usual_lap_s=lap)

    page = as_(crew).get(reverse("walk-in", args=[day.pk])).content.decode()

    assert [one.name for one in by_pace(event.groups.all())] == ["Quick", "Slow", "Open"]
    assert page.index("Quick") < page.index("Slow") < page.index("Open")


def test_the_roster_counts_its_groups(seen, entry, event):
    add_group(by=SERVICE, event=event, name="Slow", usual_lap_s=140)

    words = " ".join(seen("roster").split())

    assert "1 entry · Fast 1 · Slow 0" in words


def test_a_choice_that_is_missing_says_so_and_the_summary_leads_to_it(as_, crew, day, group):
    page = as_(crew).post(reverse("walk-in", args=[day.pk]), {"name": "Wil"}).content.decode()

    assert '<a href="#id_group_0">Group is missing: choose one.</a>' in page
    assert 'id="id_group_0"' in page


def test_a_file_that_is_missing_is_to_be_chosen(as_, crew, day, group):
    page = as_(crew).post(reverse("send-roster", args=[day.pk])).content.decode()

    assert "Roster is missing: choose a file." in page
