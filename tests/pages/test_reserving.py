"""Reserving from the garage, and the trailer's list of what is kept for whom."""

import uuid
from datetime import timedelta
from decimal import Decimal

import pytest
from django.urls import reverse

from fleet.accounts.policy import SERVICE
from fleet.inventory.actions import list_spec, load_stock, move_stock, receive_lot, reserve
from fleet.inventory.availability import open_reservations, reservations
from fleet.inventory.models import StockMovement
from fleet.inventory.reservation import Reservation
from fleet.pages.reservations import load_list


@pytest.fixture
def listed(tarn, rear_spec, rear_lot, fitted):
    """Rears for 185.50: three are left on the trailer."""
    tarn.currency = "GBP"
    tarn.save()
    return list_spec(by=SERVICE, vendor=tarn, spec=rear_spec, price=Decimal("185.50"), low_at=1)


@pytest.fixture
def tomorrow(now):
    return now.date() + timedelta(days=1)


@pytest.fixture
def kept(rider, tarn, rear_spec, listed, tomorrow, now):
    return reserve(
        by=rider.person, at=now, rider=rider, vendor=tarn, spec=rear_spec, quantity=2, wanted_on=tomorrow
    )


def wanted(listing, day, **more):
    form = {
        "vendor": listing.vendor_id, "spec": listing.spec_id, "quantity": "2", "wanted_on": f"{day:%Y-%m-%d}",
        "key": uuid.uuid4(),
    }  # fmt: skip
    return form | more


def test_the_page_answers_without_a_tap_for_the_tire_on_the_bike_and_the_next_day(
    as_, rider_person, listed, entry
):
    shown = as_(rider_person).get(reverse("reserve")).content.decode()

    assert "Has one" in shown
    assert "185.50 GBP" in shown
    assert f"{entry.day.date:%Y-%m-%d}" in shown


def test_more_than_there_are_is_said_without_a_number(as_, rider_person, listed, tomorrow):
    address = reverse("reserve") + f"?spec={listed.spec_id}&quantity=4&wanted_on={tomorrow}"

    shown = as_(rider_person).get(address).content.decode()

    assert "Has too few" in shown
    assert "Has 3" not in shown


def test_two_rears_are_reserved_with_one_tap_and_once(as_, rider_person, listed, tomorrow):
    browser, form = as_(rider_person), wanted(listed, tomorrow)

    for _ in range(2):
        answer = browser.post(reverse("reserve"), form, follow=True)

    assert "Tarn Tire Service keeps 2 of Mirrin Lowmoor TD" in answer.content.decode()
    assert Reservation.objects.get().quantity == 2


@pytest.mark.parametrize(
    ("typed", "status", "sentence"),
    [
        ({"quantity": "4"}, 422, "has too few of these that are free"),
        ({"quantity": "7"}, 422, "4 tires of a kind are kept for one rider"),
        ({"quantity": "two"}, 422, "This is no whole number"),
        ({"wanted_on": "2020-01-01"}, 422, "over or too far away"),
        ({"wanted_on": "soon"}, 422, "This is no date"),
        ({"spec": uuid.uuid4()}, 422, "no vendor sells this one"),
        ({"vendor": "x"}, 422, "Choose a vendor from the list"),
        ({"vendor": uuid.uuid4()}, 404, "choose one from the list"),
    ],
)
def test_what_cannot_be_reserved_is_said_and_nothing_is_kept(
    typed, status, sentence, as_, rider_person, listed, tomorrow
):
    answer = as_(rider_person).post(reverse("reserve"), wanted(listed, tomorrow, **typed))

    assert answer.status_code == status
    assert sentence in answer.content.decode()
    assert not Reservation.objects.exists()


def test_nothing_listed_anywhere_is_said(as_, rider_person, rider):
    answer = as_(rider_person).get(reverse("reserve"))

    assert answer.status_code == 200
    assert "No vendor has listed a tire" in answer.content.decode()


def test_the_rider_takes_it_back_once(as_, rider_person, kept):
    browser = as_(rider_person)

    first = browser.post(reverse("let-go", args=[kept.pk]), follow=True).content.decode()
    again = browser.post(reverse("let-go", args=[kept.pk]), follow=True).content.decode()

    assert "Taken back: 2 of" in first
    assert "nothing was changed" in again
    assert "Taken back by the rider" in again


def test_the_trailer_confirms_and_sets_aside(as_, fitter, kept):
    browser, address = as_(fitter), reverse("step-reservation", args=[kept.pk])

    confirmed = browser.post(address, {"step": "confirm"}, follow=True).content.decode()
    ready = browser.post(address, {"step": "set-aside"}, follow=True).content.decode()

    assert "Robin Vale, 2 of Mirrin Lowmoor TD" in confirmed
    assert "set aside on the trailer." in ready
    assert reservations().get().state == "ready"


def test_what_does_not_lie_on_the_trailer_is_not_set_aside_and_the_list_says_what_to_load(
    as_, fitter, stock_manager, kept, rear_lot, tarn, tomorrow, now
):
    load_stock(by=stock_manager, at=now, lot=rear_lot, quantity=-3, loaded_at=now)

    said = as_(fitter).post(reverse("step-reservation", args=[kept.pk]), {"step": "set-aside"}, follow=True)
    [load] = load_list(tarn, until=tomorrow)

    assert "load more first" in said.content.decode()
    assert (load.reserved, load.on_trailer, load.in_store, load.load, load.short) == (2, 0, 3, 2, 0)
    assert load.is_low


def test_the_load_list_tells_what_is_short_and_leaves_later_days_out(
    kept, rear_lot, stock_manager, tarn, move_out, tomorrow
):
    move_out(2)

    [load] = load_list(tarn, until=tomorrow)

    assert (load.load, load.short) == (0, 1)
    assert [one for one in load_list(tarn, until=tomorrow - timedelta(days=1)) if one.reserved] == []


@pytest.fixture
def move_out(rear_lot, stock_manager, now):
    def do(count):
        move_stock(
            by=stock_manager, at=now, lot=rear_lot, kind="written_off", place="trailer", quantity=-count,
            moved_at=now, reason="cut on the rack",
        )  # fmt: skip

    return do


def test_a_release_wants_a_reason_and_keeps_the_page(as_, fitter, kept):
    browser, address = as_(fitter), reverse("release-reservation", args=[kept.pk])

    refused = browser.post(address, {"reason": ""})
    assert refused.status_code == 422
    assert "Why is missing: fill it in." in refused.content.decode()

    browser.post(address, {"reason": "none came in"})
    assert not open_reservations().exists()


def test_the_stock_page_shows_what_is_kept_and_free_and_marks_recalled_lots(
    as_, fitter, kept, recall, rear_spec
):
    browser = as_(fitter)
    before = browser.get(reverse("stock")).content.decode()
    recall(spec=rear_spec)
    after = browser.get(reverse("stock")).content.decode()

    assert "<strong>2</strong> kept for riders · <strong>1</strong> free to sell" in " ".join(before.split())
    assert "recalled: not sold" in after
    assert "recalled: not sold" not in before


def test_a_sale_names_who_reserved_or_says_why_not(as_, stock_manager, kept, rear_lot):
    browser, address = as_(stock_manager), reverse("lot", args=[rear_lot.pk])
    form = {"done": "sold", "place": "trailer", "quantity": "2", "reason": "", "key": uuid.uuid4()}

    refused = browser.post(address, form)
    assert refused.status_code == 422
    assert "3 of this kind are left and 2 are kept" in refused.content.decode()

    browser.post(address, form | {"reservation": kept.pk})
    assert StockMovement.objects.get(kind="sold").reservation == kept
    assert reservations().get().state == "taken"


def test_a_delivery_frees_what_was_too_little(as_, rider_person, listed, tarn, rear_spec, tomorrow, now):
    receive_lot(
        by=SERVICE,
        at=now,
        vendor=tarn,
        spec=rear_spec,
        code="late",
        date_code="0826",
        quantity=4,
        received_at=now,
    )

    as_(rider_person).post(reverse("reserve"), wanted(listed, tomorrow, quantity="4"))

    assert Reservation.objects.get().quantity == 4


def test_the_pages_ask_a_fixed_number_of_questions(
    as_, rider_person, fitter, kept, rider, tarn, rear_spec, tomorrow, now, django_assert_max_num_queries
):
    for _ in range(6):
        reserve(by=SERVICE, at=now, rider=rider, vendor=tarn, spec=rear_spec, quantity=1, wanted_on=tomorrow)

    garage, trailer = as_(rider_person), as_(fitter)

    with django_assert_max_num_queries(16):
        garage.get(reverse("reserve"))
    with django_assert_max_num_queries(16):
        trailer.get(reverse("reservations"))
