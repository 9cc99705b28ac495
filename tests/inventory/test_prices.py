"""Prices: set by the stock manager, kept with each sale as they were then."""

import uuid
from datetime import timedelta
from decimal import Decimal

import pytest

from fleet.accounts.models import Change
from fleet.accounts.policy import SERVICE
from fleet.errors import Invalid, NotAllowed, NotFound
from fleet.inventory.actions import (
    fit_tire,
    list_spec,
    move_stock,
    remove_tire,
    void_fitting,
)
from fleet.inventory.day_sheet import day_sheet
from fleet.inventory.models import Listing, Place

ZONE = "Europe/London"


@pytest.fixture
def listed(stock_manager, tarn, rear_lot):
    return list_spec(by=stock_manager, vendor=tarn, spec=rear_lot.spec, price=Decimal("189.00"), low_at=2)


@pytest.fixture
def sell(stock_manager, rear_lot, now):
    def sold(quantity=1, kind="sold", **more):
        sign = 1 if kind == "returned" else -1
        return move_stock(
            by=stock_manager,
            at=now,
            lot=rear_lot,
            kind=kind,
            place=Place.TRAILER,
            quantity=sign * quantity,
            moved_at=now,
            reason="asked for it",
            **more,
        )

    return sold


@pytest.fixture
def rear_on(fitter, wheel_pair, rear_lot, now):
    return fit_tire(by=fitter, at=now, wheel_pair=wheel_pair, axle="rear", fitted_at=now, lot=rear_lot)


def test_a_sale_keeps_the_price_of_its_day(listed, sell, stock_manager, tarn, rear_lot):
    before = sell()
    list_spec(by=stock_manager, vendor=tarn, spec=rear_lot.spec, price=Decimal("199.00"))

    before.refresh_from_db()
    assert (before.unit_price, sell().unit_price) == (Decimal("189.00"), Decimal("199.00"))
    assert Listing.objects.count() == 1


def test_a_fitting_from_stock_keeps_the_listed_price(listed, rear_on):
    assert rear_on.movement.unit_price == Decimal("189.00")


def test_a_price_agreed_on_the_spot_goes_before_the_listed_one(listed, sell):
    assert sell(unit_price=Decimal("170.00")).unit_price == Decimal("170.00")


def test_a_write_off_has_no_price(listed, sell):
    assert sell(kind="written_off").unit_price is None


def test_what_is_imported_keeps_the_price_it_had_or_none(listed, rear_lot, now):
    line = move_stock(
        by=SERVICE,
        at=now,
        lot=rear_lot,
        kind="sold",
        place="trailer",
        quantity=-1,
        moved_at=now,
        key=uuid.uuid4(),
    )

    assert line.unit_price is None


def test_a_changed_price_stands_in_the_trail(listed, stock_manager, tarn, rear_lot):
    list_spec(by=stock_manager, vendor=tarn, spec=rear_lot.spec, price=Decimal("199.00"), low_at=2)

    line = Change.objects.get(noun="listing", what="corrected")
    assert (line.before, line.after) == ({"price": "189.00"}, {"price": "199.00"})


@pytest.mark.parametrize("price", ["-1", "12345678.00"])
def test_a_price_that_cannot_be_is_refused(stock_manager, tarn, rear_lot, price):
    with pytest.raises(Invalid):
        list_spec(by=stock_manager, vendor=tarn, spec=rear_lot.spec, price=Decimal(price))


def test_only_the_stock_manager_of_the_vendor_sets_prices(fitter, stranger, tarn, rear_lot):
    with pytest.raises(NotAllowed):
        list_spec(by=fitter, vendor=tarn, spec=rear_lot.spec, price=Decimal(1))
    with pytest.raises(NotFound):
        list_spec(by=stranger, vendor=tarn, spec=rear_lot.spec, price=Decimal(1))


def test_the_day_sheet_adds_up_what_was_sold_less_what_came_back(listed, sell, rear_on, fitter, tarn, now):
    sell(2)
    sell(1, "returned")
    sell(1, "written_off")

    sheet = day_sheet(fitter, tarn, on=now.date(), zone=ZONE)

    assert {kind: n for kind, n in sheet.counts.items() if n} == {
        "fitted": 1,
        "sold": 2,
        "returned": 1,
        "written_off": 1,
    }
    # By hand: 189 fitted + 2 x 189 sold - 189 back.
    assert sheet.total == Decimal("378.00")
    assert sheet.unpriced == 0


def test_what_has_no_price_is_counted_and_said(sell, fitter, tarn, now):
    sell(2)

    sheet = day_sheet(fitter, tarn, on=now.date(), zone=ZONE)

    assert (sheet.total, sheet.unpriced) == (0, 2)


def test_a_voided_fitting_is_off_the_sheet(listed, rear_on, fitter, tarn, now):
    void_fitting(by=fitter, at=now, fitting=rear_on, reason="wrong wheel")

    assert day_sheet(fitter, tarn, on=now.date(), zone=ZONE).lines == []


def test_a_tire_scrapped_by_the_crew_is_on_its_vendors_sheet_alone(
    rear_on, fitter, tarn, rider, wheel_pair, now
):
    later = now + timedelta(hours=1)
    remove_tire(
        by=fitter,
        at=later,
        fitting=rear_on,
        removed_at=later,
        reason="worn",
        destination="scrapped",
        vendor=tarn,
    )

    sheet = day_sheet(fitter, tarn, on=now.date(), zone=ZONE)

    assert [line.kind for line in sheet.lines] == ["fitted", "scrapped"]


def test_the_day_is_that_of_the_trailers_clock(listed, sell, fitter, tarn, now):
    sell()

    far_east = day_sheet(fitter, tarn, on=now.date() + timedelta(days=1), zone="Pacific/Kiritimati")

    assert len(far_east.lines) == 1  # 11:00 UTC is 01:00 of the next day there


def test_another_vendors_sheet_is_not_there(stranger, tarn, now):
    with pytest.raises(NotFound):
        day_sheet(stranger, tarn, on=now.date(), zone=ZONE)
