"""Lots and their ledger: the stock is the sum of its lines and never falls below zero."""

import uuid
from datetime import date, timedelta

import pytest

from fleet.accounts.policy import SERVICE
from fleet.errors import InTheFuture, Invalid, KeyReused, NotAllowed, NotFound
from fleet.guards import SoldOut
from fleet.inventory.actions import load_stock, receive_lot
from fleet.inventory.models import Lot, StockMovement
from fleet.inventory.queries import left_at, lots_for


@pytest.fixture
def receive(tarn, front_spec, now):
    def do(**changes):
        given = {
            "by": SERVICE,
            "at": now,
            "vendor": tarn,
            "spec": front_spec,
            "code": "lot-9",
            "date_code": "0826",
            "quantity": 6,
            "received_at": now - timedelta(days=3),
        }
        return receive_lot(**(given | changes))

    return do


def test_a_delivery_stands_in_the_store_with_the_week_it_was_made_in(receive, stock_manager):
    lot = receive(by=stock_manager)

    assert left_at(lot, "store") == 6
    assert lot.made_on == date(2026, 2, 22)  # the eighth Sunday of 2026: 49 CFR 574.5, weeks from Sunday on


def test_the_stock_is_the_sum_of_the_lines(front_lot, move, now):
    move(front_lot, "sold", -1)
    move(front_lot, "returned", 1)
    move(front_lot, "written_off", -2, reason="cut on the fork lift")
    move(front_lot, "counted", 1, reason="one more found behind the compressor")

    seen = lots_for(SERVICE).get(pk=front_lot.pk)

    assert left_at(front_lot, "trailer") == seen.on_trailer == 3


def test_loading_moves_between_store_and_trailer_and_back(receive, now):
    lot = receive()

    load_stock(by=SERVICE, at=now, lot=lot, quantity=4, loaded_at=now)
    load_stock(by=SERVICE, at=now, lot=lot, quantity=-1, loaded_at=now)

    assert (left_at(lot, "store"), left_at(lot, "trailer")) == (3, 3)


def test_more_than_the_store_holds_is_not_loaded_and_nothing_moves(receive, now):
    lot = receive()

    with pytest.raises(SoldOut):
        load_stock(by=SERVICE, at=now, lot=lot, quantity=7, loaded_at=now)

    assert (left_at(lot, "store"), left_at(lot, "trailer")) == (6, 0)


def test_loading_sent_twice_moves_once(receive, now):
    lot, key = receive(), uuid.uuid4()

    for _ in range(2):
        load_stock(by=SERVICE, at=now, lot=lot, quantity=2, loaded_at=now, key=key)

    assert left_at(lot, "trailer") == 2


def test_more_than_is_left_is_not_sold(front_lot, move):
    with pytest.raises(SoldOut, match="Nothing of this lot is left"):
        move(front_lot, "sold", -5)

    assert left_at(front_lot, "trailer") == 4


@pytest.mark.parametrize(
    ("changes", "field", "says"),
    [
        ({"date_code": "5126"}, "date_code", "in the past"),
        ({"date_code": "6024"}, "date_code", "01 to 53"),
        ({"date_code": "081"}, "date_code", "leaves the decade open"),
        ({"date_code": "08264"}, "date_code", "08264"),
        ({"quantity": 0}, "", "at least one"),
        ({"quantity": -4}, "", "add to stock"),
        ({"place": "attic"}, "place", "attic"),
    ],
)
def test_a_delivery_that_cannot_be_is_refused_and_leaves_no_lot(changes, field, says, receive):
    with pytest.raises(Invalid, match=says) as refused:
        receive(**changes)

    assert refused.value.field == field
    assert not Lot.objects.exists()


def test_a_delivery_tomorrow_is_refused(receive, now):
    with pytest.raises(InTheFuture) as refused:
        receive(received_at=now + timedelta(days=1))

    assert refused.value.field == "received_at"


def test_an_organiser_keeps_no_stock(receive, longfield):
    with pytest.raises(Invalid, match="kept by a vendor"):
        receive(vendor=longfield)


@pytest.mark.parametrize("kind", ["counted", "written_off"])
def test_a_count_or_write_off_says_why(kind, front_lot, move):
    with pytest.raises(Invalid) as refused:
        move(front_lot, kind, -1, reason="  ")

    assert refused.value.field == "reason"


@pytest.mark.parametrize(("kind", "quantity"), [("received", -1), ("sold", 1), ("written_off", 1)])
def test_the_sign_fits_the_kind(kind, quantity, front_lot, move):
    with pytest.raises(Invalid, match="add to stock"):
        move(front_lot, kind, quantity, reason="slip")


@pytest.mark.parametrize(("kind", "quantity"), [("fitted", -1), ("loaded", 3)])
def test_a_person_writes_no_half_of_a_fitting_or_a_loading(kind, quantity, front_lot, move, stock_manager):
    with pytest.raises(Invalid, match="written together with") as refused:
        move(front_lot, kind, quantity, by=stock_manager)

    assert refused.value.field == "kind"
    assert left_at(front_lot, "trailer") == 4


def test_a_delivery_sent_twice_is_one_lot(receive):
    key = uuid.uuid4()

    first, second = receive(key=key), receive(key=key)

    assert first == second
    assert left_at(first, "store") == 6


@pytest.mark.parametrize("changes", [{"quantity": 7}, {"code": "lot-10"}, {"date_code": "0926"}])
def test_a_delivery_key_does_not_serve_another_delivery(changes, receive):
    key = uuid.uuid4()
    receive(key=key)

    with pytest.raises(KeyReused):
        receive(key=key, **changes)

    assert Lot.objects.count() == 1


def test_a_key_seen_at_another_vendor_opens_nothing(receive, breckside, stranger):
    key = uuid.uuid4()
    receive(key=key)
    stranger.memberships.create(organisation=breckside, role="stock_manager")

    with pytest.raises(KeyReused):
        receive(by=stranger, vendor=breckside, key=key)


def test_stock_is_managed_by_the_stock_manager_of_its_vendor_only(
    receive, move, front_lot, fitter, stranger, now
):
    with pytest.raises(NotAllowed):
        receive(by=fitter)
    with pytest.raises(NotAllowed):
        move(front_lot, "sold", -1, by=fitter)
    with pytest.raises(NotFound):
        move(front_lot, "sold", -1, by=stranger)
    with pytest.raises(NotFound):
        load_stock(by=stranger, at=now, lot=front_lot, quantity=-1, loaded_at=now)

    assert StockMovement.objects.count() == 1


def test_another_vendors_lots_are_not_seen(front_lot, fitter, stranger, rider_person, crew):
    assert list(lots_for(fitter)) == [front_lot]
    assert [lots_for(by).count() for by in (stranger, rider_person, crew)] == [0, 0, 0]
