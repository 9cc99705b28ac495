"""Pressures set at the trailer: worked out for this rider, tire and weather at the tire's temperature now, stored once."""

import json
import re
import uuid
from datetime import timedelta

import pytest
from django.urls import reverse

from fleet.accounts.policy import SERVICE
from fleet.events.actions import correct_entry
from fleet.events.models import Conditions, Entry
from fleet.garage.actions import add_instrument
from fleet.inventory.actions import place_hold, take_wheels_in
from fleet.pressures.actions import draft_day
from fleet.pressures.models import Guidance
from fleet.running.models import PressureReading
from tests.pages.test_trailer import ride_in

KPA_PER_PSI = 6.894757293168  # NIST SP 811, appendix B
ZERO_C = 273.15


@pytest.fixture
def ticket(tarn, wheel_pair, now):
    return take_wheels_in(by=SERVICE, at=now, vendor=tarn, wheel_pair=wheel_pair, opened_on=now.date())


@pytest.fixture
def gauge(tarn, now):
    return add_instrument(
        by=SERVICE, organisation=tarn, code="tg", name="trailer gauge", kind="pressure", step_kpa=1.0, offset_kpa=3.0,
        compared_on=now.date(),
    )  # fmt: skip


@pytest.fixture
def address(ticket):
    return reverse("pressures", args=[ticket.pk])


def typed(now, **changes):
    form = {
        "front_kpa": "31",
        "rear_kpa": "28.5",
        "taken_at": f"{now:%Y-%m-%dT%H:%M}",
        "key": str(uuid.uuid4()),
    }
    return form | changes


def starts(page, axle):
    """The figures of the page by gauge and whole degree."""
    parts = page.split('<section class="wheel-to-set"')
    part = parts[1 if axle == "front" else 2]
    figures = json.loads(re.search(r'data-starts="([^"]*)"', part)[1].replace("&quot;", '"'))
    first = int(re.search(r'data-first="(-?\d+)"', part)[1])
    return {pk: {first + place: float(one) for place, one in enumerate(row)} for pk, row in figures.items()}


def test_both_wheels_are_filled_in_with_what_the_ticket_says(as_, fitter, address, ticket, guidance, gauge):
    client = as_(fitter)

    form = client.get(address).context["form"]
    told = client.get(reverse("ticket", args=[ticket.pk])).context["axles"]

    for one in told:
        on_the_gauge = form[f"{one['axle']}_kpa"].initial
        assert on_the_gauge == pytest.approx(one["true_kpa"] + 3.0, abs=0.51), "the gauge reads 3 kPa high"


def test_a_warmer_tire_is_set_higher_by_the_gas_law(as_, fitter, address, guidance, gauge):
    # Amontons' law, OpenStax College Physics (2012), chapter 13: at a fixed volume the absolute pressure goes with kelvin.
    # What the tire is at the end of a slot hardly rests on how warm it was when it was set.
    page = as_(fitter).get(address).content.decode()

    barometer = Conditions.objects.get().barometer_kpa
    for axle in ("front", "rear"):
        row = starts(page, axle)[""]
        cold = row[22] * KPA_PER_PSI + barometer
        warm = row[42] * KPA_PER_PSI + barometer
        assert warm / cold == pytest.approx((42 + ZERO_C) / (22 + ZERO_C), abs=0.015)
        assert sorted(row.values()) == list(row.values())


def test_each_gauge_has_its_own_figures(as_, fitter, address, guidance, gauge):
    figures = starts(as_(fitter).get(address).content.decode(), "rear")

    assert set(figures) == {str(gauge.pk), ""}
    assert figures[str(gauge.pk)][22] - figures[""][22] == pytest.approx(3.0 / KPA_PER_PSI, abs=0.35)


def test_without_script_the_temperatures_are_sent_and_the_figures_worked_out_again(
    as_, fitter, address, guidance
):
    client = as_(fitter)

    page = client.get(address).content.decode()
    warmer = client.get(address, {"rear_c": "40"})

    form = warmer.context["form"]
    assert form["rear_c"].value() == "40"
    assert form["rear_kpa"].initial / KPA_PER_PSI == pytest.approx(starts(page, "rear")[""][40], abs=0.06)
    assert form["front_kpa"].initial / KPA_PER_PSI == pytest.approx(starts(page, "front")[""][22], abs=0.06)


def test_what_was_set_is_stored_true_with_gauge_and_temperature(
    as_, fitter, address, ticket, fitted, gauge, now
):
    answer = as_(fitter).post(address, typed(now, rear_c="24", gauge=str(gauge.pk)), follow=True)

    page = answer.content.decode()
    readings = {one.tire_id: one for one in PressureReading.objects.all()}
    front, rear = (readings[fitted[axle].tire_id] for axle in ("front", "rear"))
    assert front.pressure_kpa == pytest.approx(31 * KPA_PER_PSI - 3.0, abs=0.01)
    assert (rear.tire_c, front.tire_c) == (24.0, None)
    assert {(one.moment, one.instrument, one.recorded_by, one.stint) for one in readings.values()} == {
        ("set", gauge, fitter, None)
    }
    assert "front 31.0\N{NO-BREAK SPACE}psi" in page
    assert "Was set to" in page


def test_sent_twice_it_is_stored_once(as_, fitter, address, fitted, now):
    client, form = as_(fitter), typed(now)

    for _ in range(2):
        answer = client.post(address, form, follow=True)

    assert "it is stored once" in answer.content.decode()
    assert PressureReading.objects.count() == 2


def test_one_wheel_that_is_refused_leaves_the_other_unstored(as_, fitter, address, fitted, now):
    answer = as_(fitter).post(address, typed(now, rear_kpa="285"))

    page = answer.content.decode()
    assert answer.status_code == 422
    assert "285 psi is not plausible" in page
    assert 'value="285"' in page
    assert not PressureReading.objects.exists()


def test_nothing_typed_is_said_and_a_time_before_the_tires_too(as_, fitter, address, fitted, now):
    client = as_(fitter)

    empty = client.post(address, typed(now, front_kpa="", rear_kpa="")).content.decode()
    early = client.post(address, typed(now - timedelta(days=2))).content.decode()

    assert "No pressure was given" in empty
    assert "There was no front tire on these wheels then" in early
    assert not PressureReading.objects.exists()


def test_a_gauge_of_somebody_else_is_not_taken(as_, fitter, breckside, address, fitted, now):
    other = add_instrument(by=SERVICE, organisation=breckside, code="bg", name="b gauge", kind="pressure")

    answer = as_(fitter).post(address, typed(now, gauge=str(other.pk)))

    assert answer.status_code == 422
    assert "b gauge" not in answer.content.decode()
    assert not PressureReading.objects.exists()


def test_a_tire_that_must_not_go_out_has_no_start_pressure(as_, fitter, address, guidance, fitted, tarn, now):
    place_hold(by=SERVICE, at=now, tire=fitted["rear"].tire, placed_for=tarn, reason="damage", placed_at=now)

    answer = as_(fitter).get(address)

    assert "No start pressure: this tire should not go out." in answer.content.decode()
    assert not answer.context["form"]["rear_kpa"].initial
    assert answer.context["form"]["front_kpa"].initial


def test_a_rider_who_is_not_entered_gets_the_figures_of_the_trailers_day(
    as_, fitter, tarn, wheel_pair, guidance, ticket, day
):
    entry = Entry.objects.get()
    ride_in(tarn, wheel_pair.fittings.get(axle="rear").tire.lot, 1, guidance.computed_at)
    other = entry.rider.registered_with.tickets.get(wheel_pair__code="ww-1")

    answer = as_(fitter).get(reverse("pressures", args=[other.pk]))
    slip = as_(fitter).get(reverse("slip", args=[other.pk])).content.decode()

    form = answer.context["form"]
    line = answer.context["guided"].to_set["rear"]
    assert not Guidance.objects.filter(lines__entry__rider=other.wheel_pair.bike.rider).exists()
    assert form["rear_kpa"].initial == pytest.approx(line.shown_kpa, abs=0.01)
    assert "No start pressure computed" not in slip


def test_without_weather_the_page_says_what_is_missing_and_stores_all_the_same(
    as_, fitter, address, entry, fitted, local
):
    client = as_(fitter)

    page = client.get(address).content.decode()
    answer = client.post(address, typed(local))

    assert "it needs that day&#x27;s weather" in page
    assert "data-starts" not in page
    assert answer.status_code == 302


def test_without_any_day_the_page_says_so(as_, fitter, address, fitted):
    page = as_(fitter).get(address).content.decode()

    assert "entered on no coming day" in page


def test_wheels_without_a_tire_have_nothing_to_set(as_, fitter, address):
    assert "There is no tire on these wheels" in as_(fitter).get(address).content.decode()


def test_the_form_of_wheels_sends_to_their_ticket_or_the_one_still_to_be_sent(
    as_, fitter, wheel_pair, fitted, now
):
    client, at, waiting = as_(fitter), reverse("wheels-pressures", args=[wheel_pair.pk]), uuid.uuid4()

    named = client.get(at, {"ticket": waiting}).content.decode()
    unnamed = client.get(at).content.decode()

    assert f'action="{reverse("pressures", args=[waiting])}"' in named
    assert "take them in first" in unnamed
    assert "data-outbox" in named


@pytest.mark.parametrize("route", ["pressures", "wheels-pressures"])
def test_a_strangers_wheels_are_not_there(as_, stranger, ticket, wheel_pair, route):
    pk = ticket.pk if route == "pressures" else wheel_pair.pk

    assert as_(stranger).get(reverse(route, args=[pk])).status_code == 404


def test_for_a_rider_with_warmers_the_cold_tire_on_the_bench_is_filled_in_and_not_the_hot_one(
    as_, fitter, address, entry, guidance, day, now
):
    correct_entry(by=SERVICE, entry=entry, uses_warmers=True)
    day.refresh_from_db()
    hot = draft_day(by=SERVICE, at=now, day=day).lines.get(entry=entry, axle="rear")

    answer = as_(fitter).get(address)

    page, form = " ".join(answer.content.decode().split()), answer.context["form"]
    figures = starts(answer.content.decode(), "rear")[""]
    assert hot.tire_c == 80.0
    assert form["rear_kpa"].initial / KPA_PER_PSI == pytest.approx(figures[22], abs=0.06)
    assert figures[80] == pytest.approx(hot.shown_kpa / KPA_PER_PSI, abs=0.06)
    assert figures[22] < figures[80] - 4.0
    assert 'placeholder="22"' in page
    assert "For a cold tire, before the warmers." in page
    assert f"the rider sets {hot.shown_kpa / KPA_PER_PSI:.1f}" in page
