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
        "readings": 3,
    } | changes  # fmt: skip


def test_a_tire_has_a_row_and_a_group_a_column():
    lines = [
        line(),
        line(group="Novice", shown_kpa=190.0),
        line(spec="s-2", axle="front", group="Novice", limit_hit="upper"),
    ]

    board = board_of({"lines": lines})

    assert board.groups == ["Fast", "Novice"]
    (part,) = board.parts
    assert [row.axle for row in part.rows] == ["front", "rear"]
    assert [cell and cell["shown_kpa"] for cell in part.rows[1].cells] == [186.0, 190.0]
    assert part.rows[0].cells[0] is None
    assert (board.has_limits, board.is_thin) == (True, False)
