"""The trailer: wheels in, tires on and off, slips out."""

import uuid
from datetime import timedelta

import pytest
from django.urls import reverse

from fleet.accounts.policy import SERVICE
from fleet.garage.actions import add_bike, add_wheel_pair, register_rider
from fleet.inventory.actions import fit_tire, place_hold, take_wheels_in
from fleet.inventory.models import Fitting, JobTicket, Place, Removal
from fleet.inventory.queries import fitted_now, left_at


@pytest.fixture
def ticket(tarn, wheel_pair, now):
    return take_wheels_in(by=SERVICE, at=now, vendor=tarn, wheel_pair=wheel_pair, opened_on=now.date())


def fitting_form(lot, now, **changes):
    form = {
        "chosen": f"lot:{lot.pk}",
        "identification": "",
        "fitted_at": f"{now:%Y-%m-%dT%H:%M}",
        "key": str(uuid.uuid4()),
    }
    return form | changes


def test_an_unknown_code_says_what_to_do(as_, fitter):
    page = as_(fitter).get(reverse("find"), {"who": "r-999"}).content.decode()

    assert "No rider you serve has “r-999”" in page
    assert "registered by the office first" in page


def test_a_rider_of_another_vendor_is_not_found(as_, stranger, wheel_pair):
    client = as_(stranger)

    page = client.get(reverse("find"), {"who": "vale"}).content.decode()
    answer = client.post(reverse("take-in", args=[wheel_pair.pk]), {"wheels": "both"})

    assert "Robin Vale" not in page
    assert answer.status_code == 404
    assert not JobTicket.objects.exists()


def test_a_rear_tire_is_fitted_from_stock_and_its_age_is_said(as_, fitter, ticket, rear_lot, now):
    form = fitting_form(rear_lot, now, identification="1ABCDEFH10826")

    answer = as_(fitter).post(reverse("fit", args=[ticket.pk, "rear"]), form, follow=True)

    page = answer.content.decode()
    assert "Rear tire fitted: Mirrin Lowmoor TD" in page
    assert "made in the week of 22 Feb 2026" in page
    assert "3 of lot lot-r left on the trailer" in page
    assert fitted_now(ticket.wheel_pair).get().ticket == ticket


def test_a_form_sent_twice_stores_one_fitting(as_, fitter, ticket, rear_lot, now):
    client, form = as_(fitter), fitting_form(rear_lot, now)

    for _ in range(2):
        answer = client.post(reverse("fit", args=[ticket.pk, "rear"]), form, follow=True)

    assert "it is stored once" in answer.content.decode()
    assert Fitting.objects.count() == 1
    assert left_at(rear_lot, Place.TRAILER) == 3


def test_the_old_tire_comes_off_in_the_same_step(as_, fitter, ticket, fitted, rear_lot, now):
    form = fitting_form(rear_lot, now, old_reason="worn", old_destination="scrapped")

    answer = as_(fitter).post(reverse("fit", args=[ticket.pk, "rear"]), form)

    assert answer.status_code == 302
    removal = Removal.objects.get()
    assert (removal.fitting, removal.destination) == (fitted["rear"], "scrapped")
    new = fitted_now(ticket.wheel_pair).get(axle="rear")
    assert new.fitted_at == removal.removed_at


def test_without_a_word_about_the_old_tire_nothing_is_stored(as_, fitter, ticket, fitted, rear_lot, now):
    answer = as_(fitter).post(reverse("fit", args=[ticket.pk, "rear"]), fitting_form(rear_lot, now))

    page = answer.content.decode()
    assert answer.status_code == 422
    assert "Why the old tire comes off is missing" in page
    assert "Where it goes is missing" in page
    assert not Removal.objects.exists()


def test_a_refused_new_tire_leaves_the_old_one_on(as_, fitter, ticket, fitted, rear_lot, now):
    form = fitting_form(
        rear_lot, now, old_reason="worn", old_destination="scrapped", identification="1ABCDEFH15399"
    )

    answer = as_(fitter).post(reverse("fit", args=[ticket.pk, "rear"]), form)

    page = answer.content.decode()
    assert answer.status_code == 422
    assert 'value="1ABCDEFH15399"' in page
    assert not Removal.objects.exists()
    assert fitted_now(ticket.wheel_pair).filter(axle="rear").get() == fitted["rear"]


def test_an_axle_can_be_left_empty(as_, fitter, ticket, fitted, rear_lot, now):
    form = fitting_form(rear_lot, now, chosen="nothing", old_reason="damaged", old_destination="handed_back")

    answer = as_(fitter).post(reverse("fit", args=[ticket.pk, "rear"]), form, follow=True)

    assert "The rear tire is off" in answer.content.decode()
    assert not fitted_now(ticket.wheel_pair).filter(axle="rear").exists()


def test_a_time_in_the_future_is_refused_and_kept(as_, fitter, ticket, rear_lot, now):
    later = now + timedelta(days=2)

    answer = as_(fitter).post(reverse("fit", args=[ticket.pk, "rear"]), fitting_form(rear_lot, later))

    page = answer.content.decode()
    assert answer.status_code == 422
    assert "has not come yet" in page
    assert f'value="{later:%Y-%m-%dT%H:%M}"' in page


def test_a_front_tire_is_not_offered_for_the_rear(as_, fitter, ticket, front_lot, now):
    answer = as_(fitter).post(reverse("fit", args=[ticket.pk, "rear"]), fitting_form(front_lot, now))

    assert not Fitting.objects.exists()
    assert "Neither the trailer nor the rider has a rear tire" in answer.content.decode()


def test_a_tire_on_hold_is_refused(as_, fitter, ticket, fitted, tarn, front_lot, now):
    old = fitted["rear"].tire
    client = as_(fitter)
    off = fitting_form(front_lot, now, chosen="nothing", old_reason="swap", old_destination="kept")
    client.post(reverse("fit", args=[ticket.pk, "rear"]), off)
    place_hold(by=SERVICE, at=now, tire=old, placed_for=tarn, reason="damage", placed_at=now)

    answer = client.post(
        reverse("fit", args=[ticket.pk, "rear"]), fitting_form(front_lot, now, chosen=f"tire:{old.pk}")
    )

    assert answer.status_code == 422
    assert "This tire is on hold" in answer.content.decode()


def test_the_ticket_shows_what_to_set_when_the_rider_is_entered(as_, fitter, ticket, guidance):
    page = as_(fitter).get(reverse("ticket", args=[ticket.pk])).content.decode()

    lines = guidance.lines.filter(entry__isnull=False)
    assert lines.count() == 2
    for line in lines:
        assert f'<span class="figure">{line.shown_kpa / 6.894757293168:.1f}</span>' in page
    assert "pump the brake before moving off" in page
    assert "Seat beads only up to" in page


def test_the_slip_carries_both_pressures_and_the_scrub_in_note(as_, fitter, ticket, guidance):
    page = as_(fitter).get(reverse("slip", args=[ticket.pk])).content.decode()

    assert page.count("\N{NO-BREAK SPACE}psi</strong>") == 2
    assert "scrub in" in page


@pytest.mark.parametrize("route", ["ticket", "slip"])
def test_a_strangers_ticket_is_not_there(as_, stranger, ticket, route):
    answer = as_(stranger).get(reverse(route, args=[ticket.pk]))

    assert answer.status_code == 404


def test_a_strangers_ticket_takes_no_form(as_, stranger, ticket, rear_lot, now):
    client = as_(stranger)

    answers = [
        client.post(reverse("fit", args=[ticket.pk, "rear"]), fitting_form(rear_lot, now)),
        client.post(reverse("move-ticket", args=[ticket.pk]), {"seen": "waiting", "state": "ready"}),
    ]

    assert [answer.status_code for answer in answers] == [404, 404]
    assert not Fitting.objects.exists()


def ride_in(tarn, rear_lot, number, now):
    rider = register_rider(by=SERVICE, code=f"w-{number}", name=f"Walker {number}", registered_with=tarn)
    bike = add_bike(by=SERVICE, rider=rider, code=f"wb-{number}", description="600 sport")
    pair = add_wheel_pair(by=SERVICE, bike=bike, code=f"ww-{number}", name="dry")
    take_wheels_in(by=SERVICE, at=now, vendor=tarn, wheel_pair=pair, opened_on=now.date())
    if number < 3:
        fit_tire(by=SERVICE, at=now, wheel_pair=pair, axle="rear", fitted_at=now, lot=rear_lot)


@pytest.mark.parametrize(("route", "query"), [("trailer", {}), ("find", {"who": "walker"})])
def test_more_tickets_ask_the_database_no_more_often(
    as_, fitter, tarn, rear_lot, now, route, query, django_assert_num_queries
):
    client = as_(fitter)
    ride_in(tarn, rear_lot, 0, now)
    with django_assert_num_queries(13 if route == "trailer" else 19) as counted:
        client.get(reverse(route), query)
    for number in range(1, 8):
        ride_in(tarn, rear_lot, number, now)

    with django_assert_num_queries(len(counted)):
        page = client.get(reverse(route), query).content.decode()

    assert page.count("Walker") >= 8
