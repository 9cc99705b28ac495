"""The slip: the same words on the screen, on A6, on the roll and as PDF, in the rider's units and on their gauge."""

import io
from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse
from pypdf import PdfReader

from fleet.accounts.policy import SERVICE
from fleet.garage.actions import add_instrument
from fleet.inventory.actions import enter_recall, place_hold
from fleet.life.models import Assessment, State
from fleet.pages.units import PRESSURE, day_of
from fleet.pressures.actions import draft_day
from tests.pages.printing.reading import (
    closed_up,
    pages_of,
    size_mm,
    standard_of,
    typefaces_of,
    words_of_html,
    words_of_pdf,
)

SPACE = "\N{NO-BREAK SPACE}"
KPA_PER_PSI = 6.894757293168  # NIST SP 811 (2008), appendix B.8: pound-force per square inch


@pytest.fixture
def printed(as_, fitter, ticket):
    """The slip as a page and as PDF, on a paper."""

    def show(paper="a6"):
        client = as_(fitter)
        page = client.get(reverse("slip", args=[ticket.pk]), {"paper": paper})
        pdf = client.get(reverse("slip-pdf", args=[ticket.pk]), {"paper": paper})
        assert (page.status_code, pdf.status_code) == (200, 200)
        return page.content.decode(), pdf.content

    return show


@pytest.fixture
def gauge(rider):
    def compare(days_ago, now, offset_psi=2):
        return add_instrument(
            by=SERVICE, code="g-1", name="Pocket gauge", kind="pressure", rider=rider,
            offset_kpa=offset_psi * KPA_PER_PSI, compared_on=days_ago and now.date() - timedelta(days=days_ago),
        )  # fmt: skip

    return compare


@pytest.mark.parametrize("paper", ["a6", "roll"])
def test_the_page_and_the_pdf_say_the_same_words(printed, guidance, assessed, paper):
    page, pdf = printed(paper)

    assert words_of_pdf(pdf) == words_of_html(page)
    assert len(words_of_pdf(pdf)) > 500


@pytest.mark.parametrize(("paper", "width_mm", "height_mm"), [("a6", 105, 148), ("roll", 80, None)])
def test_the_pdf_is_one_sheet_of_the_paper_tagged_with_its_typeface_inside(
    printed, guidance, assessed, paper, width_mm, height_mm
):
    _, pdf = printed(paper)

    (page,) = pages_of(pdf)
    width, height = size_mm(page)
    assert width == width_mm
    assert height == height_mm or 80 < height < 200
    assert standard_of(pdf) == ("1", "en", True)
    assert sorted(name.split("+")[1] for name in typefaces_of(pdf)) == [
        "AtkinsonHyperlegibleNext-Bold",
        "AtkinsonHyperlegibleNext-Regular",
    ]
    assert all(typefaces_of(pdf).values())


def test_the_same_slip_is_the_same_file(printed, guidance, assessed):
    first, again = printed()[1], printed()[1]

    assert first == again
    assert not any("Date" in name for name in PdfReader(io.BytesIO(first)).metadata), (
        "no moment of setting is kept"
    )


def test_the_slip_names_tires_date_codes_ticket_and_cautions(printed, ticket, guidance, assessed, rear_spec):
    page, pdf = printed()

    assert f"<h1>{ticket.wheel_pair.bike.rider}</h1>" in page
    for words in (
        str(rear_spec), "date code 0826", "scrub in", "Not scrubbed in yet", "pump the brake", "placard",
        f"Slip {ticket.number}", "Hot target",
    ):  # fmt: skip
        assert words in page
    assert closed_up(str(rear_spec)) in words_of_pdf(pdf)


def test_the_slip_is_in_the_riders_units_whoever_prints_it(printed, rider, fitter, guidance, assessed):
    rider.person.pressure_unit, rider.person.temperature_unit = "bar", "F"
    rider.person.save()

    page, _ = printed()

    for line in guidance.lines.filter(entry__isnull=False):
        assert f"<strong>{PRESSURE['bar'].figure(line.shown_kpa)}{SPACE}bar</strong>" in page
        assert f"Hot target {PRESSURE['bar'].figure(line.hot_target_kpa)}{SPACE}bar" in page
    assert f"{SPACE}°F" in page
    assert f"{SPACE}°C" not in page


def test_the_slip_reads_as_the_riders_compared_gauge(printed, gauge, conditions, entry, assessed, day, now):
    compared = gauge(30, now)
    line = draft_day(by=SERVICE, at=now, day=day).lines.get(entry__isnull=False, axle="front")

    page, _ = printed()

    assert f"<strong>{line.shown_kpa / KPA_PER_PSI:.1f}{SPACE}psi</strong>" in page
    assert f"Hot target {line.hot_target_kpa / KPA_PER_PSI + 2:.1f}{SPACE}psi" in page
    assert f"On your gauge (Pocket gauge, compared {day_of(compared.compared_on)})." in page
    true_psi = line.shown_kpa / KPA_PER_PSI - 2
    assert f"It reads 2.0{SPACE}psi high: a true gauge shows {true_psi:.1f}{SPACE}psi" in page
    assert "which is old" not in page


@pytest.mark.parametrize(
    ("days_ago", "offset_psi", "said"),
    [
        (366, 2, "which is old: compare it again"),
        (None, 2, "compared on a day not noted"),
        (30, 0, "It reads true."),
        (None, 0, "Your gauge (Pocket gauge) was never compared"),
    ],
)
def test_a_comparison_is_told_for_what_it_is(
    printed, gauge, conditions, entry, assessed, day, now, days_ago, offset_psi, said
):
    gauge(days_ago, now, offset_psi)
    draft_day(by=SERVICE, at=now, day=day)

    assert said in printed()[0].replace("&#x27;", "'")


def test_a_rider_without_a_gauge_gets_true_figures(printed, guidance, assessed):
    assert printed()[0].count("As a true gauge shows it.") == 2


def test_a_walk_in_without_an_account_gets_psi_and_celsius(printed, rider, guidance, assessed):
    rider.person = None
    rider.save()

    page, _ = printed()

    assert page.count(f"{SPACE}psi</strong>") == 2
    assert f"{SPACE}°C" in page


def test_a_held_tire_gets_no_start_pressure_on_either(printed, guidance, assessed, tarn, now):
    place_hold(
        by=SERVICE, at=now, tire=assessed["rear"].tire, placed_for=tarn, reason="damage", placed_at=now
    )

    page, pdf = printed()

    assert "No start pressure: this tire should not go out." in page
    assert "On hold: damage." in page
    assert page.count('<p class="slip-set">') == 1
    assert words_of_pdf(pdf).count("psi,") == words_of_html(page).count("psi,") < 4


def test_a_recalled_tire_says_what_to_do_instead(printed, guidance, assessed, front_spec, now):
    enter_recall(
        by=SERVICE, at=now, reference="W-14", issued_by="Mirrin", published_on=now.date(), spec=front_spec,
        first_code="0626", last_code="1026", what_to_do="Bring it to your vendor.",
    )  # fmt: skip

    page, pdf = printed()

    assert "No start pressure: this tire should not go out." in page
    assert "W-14" in page
    assert "Bringittoyourvendor." in words_of_pdf(pdf)


def test_a_worn_tire_says_which_limit(printed, guidance, assessed):
    Assessment.objects.filter(tire=assessed["rear"].tire).update(
        state=State.STAND_DOWN, binding_limit="heat_cycles"
    )

    assert "A limit is reached: heat cycles." in printed()[0]


def test_a_wheel_without_a_tire_says_so(as_, fitter, ticket):
    page = as_(fitter).get(reverse("slip", args=[ticket.pk])).content.decode()

    assert page.count("Do not fit the wheel to the bike.") == 2


@pytest.mark.parametrize(
    "name", ["Wilhelmina-Annunziata " * 4, "W" * 100, "Łucja Őrségi-Ňovák", "Елена Ξένη"]
)
def test_a_name_of_any_length_leaves_the_slip_on_one_sheet(printed, rider, guidance, assessed, event, name):
    rider.name, event.name = name, "Longfield " * 10
    rider.save()
    event.save()

    page, pdf = printed()

    assert len(pages_of(pdf)) == 1
    assert words_of_pdf(pdf) == words_of_html(page)
    assert standard_of(pdf)[0] == "1"


def test_letters_no_typeface_has_still_print(printed, rider, guidance, assessed):
    rider.name = "Robin \N{CJK UNIFIED IDEOGRAPH-7530}"
    rider.save()

    _, pdf = printed()

    assert len(pages_of(pdf)) == 1
    assert standard_of(pdf)[0] is None


def test_the_paper_is_remembered_by_the_device(as_, fitter, ticket):
    client, address = as_(fitter), reverse("slip", args=[ticket.pk])
    assert "slip-a6.css" in client.get(address).content.decode()

    client.get(address, {"paper": "roll"})

    assert "slip-roll.css" in client.get(address).content.decode()
    assert client.cookies["slip-paper"]["httponly"]


@pytest.mark.parametrize("route", ["slip", "slip-pdf"])
def test_an_unknown_paper_is_refused_with_those_there_are(as_, fitter, ticket, route):
    answer = as_(fitter).get(reverse(route, args=[ticket.pk]), {"paper": "a5"})

    assert answer.status_code == 422
    assert "choose a6 or roll" in answer.content.decode()


def test_a_remembered_paper_that_never_was_is_passed_over(as_, fitter, ticket):
    client = as_(fitter)
    client.cookies["slip-paper"] = "papyrus"

    assert client.get(reverse("slip", args=[ticket.pk])).status_code == 200


@pytest.mark.parametrize(("who", "status"), [("stranger", 404), ("rider_person", 403), ("crew", 403)])
@pytest.mark.parametrize("route", ["slip", "slip-pdf"])
def test_only_the_trailer_prints_its_slips(request, as_, ticket, rider, who, status, route):
    person = request.getfixturevalue(who)

    assert as_(person).get(reverse(route, args=[ticket.pk])).status_code == status


def test_nobody_gets_a_slip_without_signing_in(ticket):
    answer = Client().get(reverse("slip-pdf", args=[ticket.pk]))

    assert answer.status_code == 302
    assert answer.url.startswith("/sign-in/")
