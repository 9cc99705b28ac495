"""The bulletin anybody in the paddock reads."""

import pytest
from django.test import Client
from django.urls import reverse

from fleet.accounts.policy import SERVICE
from fleet.pages.boards import board_of
from fleet.pressures.actions import withdraw_bulletin

KPA_PER_PSI = 6.894757293168  # NIST SP 811 (2008), appendix B.8: pound-force per square inch


@pytest.mark.parametrize("route", ["bulletin", "board"])
def test_the_bulletin_in_force_needs_no_account(day, bulletin, route):
    page = Client().get(reverse(route, args=[day.public_code])).content.decode()

    for line in bulletin.content["lines"]:
        assert f"{line['shown_kpa'] / KPA_PER_PSI:.1f}" in page
    assert "Mirrin Lowmoor TD" in page
    assert "Bulletin 1" in page
    assert "A figure here is a starting point" in page


@pytest.mark.parametrize("route", ["bulletin", "board"])
def test_the_bulletin_names_no_rider_and_nobody_of_the_crew(day, bulletin, rider, director, route):
    page = Client().get(reverse(route, args=[day.public_code])).content.decode()

    assert rider.name not in page
    assert director.name not in page
    assert "27</" not in page


def test_bar_stands_beside_psi(day, bulletin):
    page = Client().get(reverse("bulletin", args=[day.public_code])).content.decode()

    for line in bulletin.content["lines"]:
        assert f"{line['shown_kpa'] / 100:.2f}\N{NO-BREAK SPACE}bar" in page


@pytest.mark.parametrize("route", ["bulletin", "board"])
def test_a_withdrawn_bulletin_is_said_to_be_so(day, bulletin, now, route):
    withdraw_bulletin(by=SERVICE, at=now, bulletin=bulletin, reason="the thermometer stood in the sun")

    page = Client().get(reverse(route, args=[day.public_code])).content.decode()

    assert "No bulletin in force" in page
    assert "the thermometer stood in the sun" in page
    assert "Lowmoor" not in page


@pytest.mark.parametrize("route", ["bulletin", "board"])
def test_a_day_without_a_bulletin_says_whom_to_ask(day, route):
    page = Client().get(reverse(route, args=[day.public_code])).content.decode()

    assert "No bulletin in force" in page


@pytest.mark.parametrize("route", ["bulletin", "board"])
def test_a_guessed_address_leads_nowhere(db, route):
    answer = Client().get(reverse(route, args=["guessed"]))

    assert answer.status_code == 404


def line(**changes):
    return {
        "spec": "s-1", "maker": "Mirrin", "line": "Lowmoor TD", "size": "190/55 ZR17", "compound": "", "axle": "rear",
        "group": "Fast", "uses_warmers": False, "shown_kpa": 186.0, "hot_target_kpa": 215.0, "limit_hit": "",
        "readings": 3, "part": "", "low_kpa": 180.0, "high_kpa": 192.0,
    } | changes  # fmt: skip


def part(name, begins="00:00", ends="23:59"):
    return {
        "name": name,
        "starts_at": f"2026-06-12T{begins}:00+01:00",
        "ends_at": f"2026-06-12T{ends}:00+01:00",
        "conditions": {"air_c": 20.0, "track_surface_c": 30.0},
    }


def test_a_tire_has_a_row_and_a_group_a_column():
    lines = [
        line(),
        line(group="Novice", shown_kpa=190.0),
        line(spec="s-2", axle="front", group="Novice", limit_hit="upper"),
    ]

    board = board_of({"lines": lines, "parts": [part("")]})

    assert [column.name for column in board.columns] == ["Fast", "Novice"]
    (tires,) = board.tires
    assert [row.axle for row in tires.rows] == ["front", "rear"]
    assert [cell and cell["shown_kpa"] for cell in tires.rows[1].cells] == [186.0, 190.0]
    assert tires.rows[0].cells[0] is None
    assert (board.has_limits, board.is_thin) == (True, False)


def test_where_the_day_has_parts_a_tire_has_a_row_for_each_group_and_a_part_is_a_column():
    lines = [
        line(part="morning", shown_kpa=186.0),
        line(part="midday", shown_kpa=183.0, hot_target_kpa=214.0),
        line(part="midday", group="Novice", shown_kpa=190.0),
    ]
    parts = [part("morning", ends="11:00"), part("midday", "11:00")]

    board = board_of({"lines": lines, "parts": parts, "time_zone": "Europe/London"})

    assert [(column.name, column.when) for column in board.columns] == [
        ("morning", "to 11:00"),
        ("midday", "11:00\N{EN DASH}23:59"),
    ]
    (tires,) = board.tires
    assert [row.groups for row in tires.rows] == [["Fast"], ["Novice"]]
    assert [[cell and cell["shown_kpa"] for cell in row.cells] for row in tires.rows] == [
        [186.0, 183.0],
        [None, 190.0],
    ]
    assert tires.rows[0].hot_targets_kpa == {214.0, 215.0}


@pytest.fixture
def three_parts():
    return [part("morning", ends="11:00"), part("midday", "11:00", "14:00"), part("afternoon", "14:00")]


def test_parts_in_which_everybody_sets_the_same_stand_as_one(three_parts):
    lines = [
        line(part=name, shown_kpa=kpa)
        for name, kpa in (("morning", 186.0), ("midday", 183.0), ("afternoon", 183.0))
    ]

    board = board_of({"lines": lines, "parts": three_parts, "time_zone": "Europe/London"})

    assert [column.name for column in board.columns] == ["morning", "midday and afternoon"]
    assert board.columns[1].parts == ("midday", "afternoon")


def test_groups_that_set_the_same_all_day_stand_in_one_row(three_parts):
    figures = (("morning", 186.0), ("midday", 183.0), ("afternoon", 180.0))
    lines = [
        line(part=name, shown_kpa=kpa, group=group) for name, kpa in figures for group in ("Fast", "Novice")
    ]
    lines.append(line(part="midday", group="Slow", shown_kpa=190.0))

    (tires,) = board_of({"lines": lines, "parts": three_parts, "time_zone": "Europe/London"}).tires

    assert [row.groups for row in tires.rows] == [["Fast", "Novice"], ["Slow"]]


def test_a_day_on_which_nothing_differs_is_told_as_one_with_the_widest_span(three_parts):
    lines = [
        line(part=name, low_kpa=low, high_kpa=high)
        for name, low, high in (
            ("morning", 180.0, 190.0),
            ("midday", 182.0, 192.0),
            ("afternoon", 181.0, 191.0),
        )
    ]

    board = board_of({"lines": lines, "parts": three_parts, "time_zone": "Europe/London"})

    assert (board.has_parts, [column.name for column in board.columns]) == (False, ["Fast"])
    (cell,) = board.tires[0].rows[0].cells
    assert (cell["low_kpa"], cell["high_kpa"]) == (180.0, 192.0)


def test_a_figure_by_hand_or_at_a_limit_is_never_told_as_one_with_another(three_parts):
    lines = [
        line(part="morning"), line(part="midday", computed_kpa=180.0), line(part="afternoon", limit_hit="upper"),
    ]  # fmt: skip

    assert len(board_of({"lines": lines, "parts": three_parts, "time_zone": "Europe/London"}).columns) == 3
