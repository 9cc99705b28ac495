"""A line set by hand is what the rider reads in the garage, on the ticket and on the slip, beside what was worked out for them."""

import re

import pytest
from django.urls import reverse

from fleet.accounts.policy import SERVICE
from fleet.inventory.actions import take_wheels_in
from fleet.pressures.actions import issue_bulletin, set_line_by_hand
from fleet.pressures.queries import board_lines
from tests.pages.printing.reading import closed_up, words_of_html, words_of_pdf

SPACE = "\N{NO-BREAK SPACE}"
KPA_PER_PSI = 6.894757293168  # NIST SP 811 (2008), appendix B.8: pound-force per square inch
WHY = "The maker's engineer here asked for it after the first session, director agreed."


@pytest.fixture
def ticket(tarn, wheel_pair, now):
    return take_wheels_in(by=SERVICE, at=now, vendor=tarn, wheel_pair=wheel_pair, opened_on=now.date())


@pytest.fixture
def issued(guidance, assessed, director, day, now):
    """Return what the rear's own line had, after a bulletin with the rear by hand."""

    def done(psi=29.0, reason="asked for"):
        own = guidance.lines.get(entry__isnull=False, axle="rear")
        line = board_lines(guidance).get(axle="rear")
        set_line_by_hand(by=director, at=now, line=line, set_kpa=psi * KPA_PER_PSI, reason=reason)
        issue_bulletin(by=director, at=now, day=day)
        return f"{own.shown_kpa / KPA_PER_PSI:.1f}{SPACE}psi"

    return done


def test_the_garage_shows_the_bulletins_figure_with_the_own_one_and_why(as_, rider, issued):
    own = issued()

    page = re.sub(r" *\n *", " ", as_(rider.person).get("/garage/").content.decode())

    assert '<span class="figure">29.0</span>' in page
    assert f"Set by hand by the organiser, bulletin 1</strong>, to 29.0{SPACE}psi on a true gauge" in page
    assert f"Worked out for this bike alone: {own}" in page
    assert "leaves the range" not in page
    assert "asked for" not in page


def test_beyond_the_range_the_garage_sends_to_the_director_first(as_, rider, issued):
    issued(45.0, WHY)

    page = as_(rider.person).get("/garage/").content.decode()

    assert '<span class="figure">45.0</span>' in page
    assert "This leaves the range the maker allows: ask the event director before you set it." in page


@pytest.mark.parametrize("route", ["ticket", "pressures"])
def test_the_trailer_shows_the_same_figures(as_, fitter, ticket, issued, route):
    own = issued(45.0, WHY)

    page = as_(fitter).get(reverse(route, args=[ticket.pk])).content.decode()

    assert "Set by hand by the organiser, bulletin 1" in page
    assert "45.0" in page
    assert own in page
    assert "leaves the range the maker allows" in page


def test_the_slip_says_it_on_screen_and_on_paper(as_, fitter, ticket, issued):
    own = issued()
    client = as_(fitter)

    page = words_of_html(client.get(reverse("slip", args=[ticket.pk])).content.decode())
    pdf = words_of_pdf(client.get(reverse("slip-pdf", args=[ticket.pk])).content)

    sentence = f"Set by hand by the organiser, bulletin 1; worked out for this bike alone: {own}."
    assert closed_up(sentence) in page
    assert closed_up(sentence) in pdf
