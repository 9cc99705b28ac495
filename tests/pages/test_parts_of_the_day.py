"""Start pressures by part of the day, as the desk checks them, the paddock reads them and a rider sets them."""

import re

import pytest
from django.test import Client
from django.urls import reverse

from fleet.accounts.policy import SERVICE
from fleet.pressures.actions import draft_day, issue_bulletin, set_line_by_hand
from fleet.pressures.models import Guidance
from fleet.pressures.queries import board_lines

FIGURE = r'start"> ([0-9.]+)'
KPA_PER_PSI = 6.894757293168  # NIST SP 811 (2008), appendix B.8: pound-force per square inch


@pytest.fixture
def guidance(by_part):
    return by_part


@pytest.fixture
def figures(guidance):
    """Return the rear's figures on the board in psi, now and in the afternoon."""
    return [f"{line.shown_kpa / KPA_PER_PSI:.1f}" for line in board_lines(guidance) if line.axle == "rear"]


def words(page):
    return " ".join(page.content.decode().split())


def test_the_desk_checks_both_parts_beside_each_other(as_, director, day, figures):
    page = words(as_(director).get(reverse("day", args=[day.pk])))

    assert "Midday" in page
    assert "Afternoon" in page
    assert figures[0] != figures[1]
    assert all(f">{figure}</a>" in page for figure in figures)


def test_one_report_alone_asks_for_a_forecast_to_tell_more(
    as_, crew, conditions, entry, slot, fitted, now, day
):
    draft_day(by=SERVICE, at=now, day=day)

    page = words(as_(crew).get(reverse("day", args=[day.pk])))

    assert "One figure for what is left of the day" in page
    assert reverse("forecast", args=[day.pk]) in page


def test_the_crew_asks_for_every_hour_and_the_draft_follows_at_once(as_, crew, guidance, day):
    as_(crew).post(reverse("day-parts", args=[day.pk]), {"parts": "hours"})

    day.refresh_from_db()
    newest = Guidance.objects.get(day=day, is_newest=True)
    assert day.parts == "hours"
    assert newest != guidance
    assert all(part.name[0].isdigit() for part in newest.parts.all())


def test_other_parts_than_there_are_are_refused(as_, crew, guidance, day):
    answer = as_(crew).post(reverse("day-parts", args=[day.pk]), {"parts": "minutes"})

    day.refresh_from_db()
    assert answer.status_code == 422
    assert "Choose morning, midday and afternoon, or every hour." in answer.content.decode()
    assert day.parts == "three"


@pytest.mark.parametrize("who", ["inspector", "rider_person", "stranger"])
def test_nobody_else_chooses_the_parts(as_, who, request, guidance, day):
    answer = as_(request.getfixturevalue(who)).post(reverse("day-parts", args=[day.pk]), {"parts": "hours"})

    day.refresh_from_db()
    assert answer.status_code in {403, 404}
    assert day.parts == "three"


def test_a_line_by_hand_says_which_part_it_is_for(as_, director, guidance, day):
    afternoon = [line for line in board_lines(guidance) if line.axle == "rear"][1]

    page = words(as_(director).get(reverse("line-by-hand", args=[day.pk, afternoon.pk])))

    assert "Fast · afternoon ·" in page


def test_the_paddock_reads_both_parts_and_which_one_is_now(figures, day, now):
    issue_bulletin(by=SERVICE, at=now, day=day)

    page = words(Client().get(reverse("bulletin", args=[day.public_code])))

    assert 'data-column="Midday, to 14:00: now"' in page
    assert 'data-column="Afternoon, from 14:00"' in page
    assert all(f'<span class="start">{figure}' in page for figure in figures)


def test_the_big_screen_shows_the_part_at_hand_and_changes_with_the_clock(
    figures, day, now, at_three, monkeypatch
):
    issue_bulletin(by=SERVICE, at=now, day=day)
    board = reverse("board", args=[day.public_code])

    at_noon = words(Client().get(board))
    monkeypatch.setattr("django.utils.timezone.now", lambda: at_three)
    at_three_o_clock = words(Client().get(board))

    assert "Set, psi · Midday, to 14:00 ·" in at_noon
    assert figures[0] in re.findall(FIGURE, at_noon)
    assert "Set, psi · Afternoon, from 14:00 ·" in at_three_o_clock
    assert re.findall(FIGURE, at_three_o_clock)[-1] == figures[1]


def test_the_plain_text_names_the_parts_once_where_they_say_the_same(figures, day, now):
    issue_bulletin(by=SERVICE, at=now, day=day)

    text = Client().get(reverse("bulletin-text", args=[day.public_code])).content.decode()

    assert "Rear, off warmers 190/55" in text
    assert f", Fast: midday {figures[0]}, afternoon {figures[1]}" in text


def test_the_garage_shows_now_first_and_then_what_comes_later(as_, rider, guidance):
    own = {line.part.name: line for line in guidance.lines.filter(entry__isnull=False, axle="rear")}

    page = words(as_(rider.person).get("/garage/"))

    assert "Set now, midday," in page
    assert f'<span class="figure">{own["midday"].shown_kpa / KPA_PER_PSI:.1f}</span>' in page
    assert f"afternoon from 14:00 <strong>{own['afternoon'].shown_kpa / KPA_PER_PSI:.1f}</strong>" in page


def test_what_is_set_by_hand_for_the_afternoon_shows_in_the_garage_as_that(
    as_, rider, director, guidance, day, now
):
    afternoon = [line for line in board_lines(guidance) if line.axle == "rear"][1]
    set_line_by_hand(
        by=director, at=now, line=afternoon, set_kpa=29.0 * KPA_PER_PSI, reason="grip is low then"
    )
    issue_bulletin(by=director, at=now, day=day)

    page = words(as_(rider.person).get("/garage/"))

    assert "afternoon from 14:00 <strong>29.0</strong> by hand" in page
    assert "Set by hand by the organiser" not in page


def test_one_figure_by_hand_is_set_for_every_part_of_the_day_at_once(as_, director, guidance, day):
    afternoon = [line for line in board_lines(guidance) if line.axle == "rear"][1]
    form = {"set_kpa": "30", "reason": "as the maker's people said", "is_all_day": "on"}

    as_(director).post(reverse("line-by-hand", args=[day.pk, afternoon.pk]), form)

    by_hand = {
        (line.axle, line.part.name): line.override.set_kpa
        for line in board_lines(guidance)
        if hasattr(line, "override")
    }
    assert by_hand == {
        ("rear", "midday"): pytest.approx(30 * KPA_PER_PSI, abs=0.01),
        ("rear", "afternoon"): pytest.approx(30 * KPA_PER_PSI, abs=0.01),
    }


def test_alone_it_is_set_for_the_part_that_was_chosen(as_, director, guidance, day):
    afternoon = [line for line in board_lines(guidance) if line.axle == "rear"][1]

    as_(director).post(
        reverse("line-by-hand", args=[day.pk, afternoon.pk]), {"set_kpa": "30", "reason": "asked for"}
    )

    assert [line.part.name for line in board_lines(guidance) if hasattr(line, "override")] == ["afternoon"]
