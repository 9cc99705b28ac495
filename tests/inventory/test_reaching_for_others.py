"""Attempts to reach over the fence: another vendor, another rider, ids learned somewhere else."""

from datetime import timedelta

import pytest

from fleet.accounts.policy import SERVICE
from fleet.errors import NotAllowed, NotFound
from fleet.garage.actions import share, take_back
from fleet.inventory.actions import add_own_tire, receive_lot, take_wheels_in, void_fitting, void_removal
from fleet.inventory.models import Fitting, JobTicket, Tire
from fleet.inventory.queries import fittings_for, left_at, riders_served


@pytest.fixture
def their_lot(breckside, front_spec, now):
    """A lot on Breckside's trailer."""
    return receive_lot(
        by=SERVICE,
        at=now,
        vendor=breckside,
        spec=front_spec,
        code="lot-b",
        date_code="0826",
        quantity=4,
        received_at=now - timedelta(days=9),
        place="trailer",
    )


def test_knowing_a_wheel_pairs_id_makes_nobody_a_customer(
    fit, stranger, breckside, their_lot, wheel_pair, rider, now
):
    with pytest.raises(NotFound):
        fit(by=stranger, lot=their_lot)
    with pytest.raises(NotFound):
        take_wheels_in(by=stranger, at=now, vendor=breckside, wheel_pair=wheel_pair, opened_on=now.date())

    assert rider not in riders_served(stranger)
    assert left_at(their_lot, "trailer") == 4


def test_a_rider_opens_the_door_to_another_vendor_by_sharing_and_closes_it_again(
    fit, stranger, breckside, their_lot, rider, rider_person, now
):
    sharing = share(by=rider_person, rider=rider, organisation=breckside, scope="stints", at=now)
    assert rider in riders_served(stranger)
    take_back(by=rider_person, sharing=sharing, at=now)
    assert rider not in riders_served(stranger)

    share(by=rider_person, rider=rider, organisation=breckside, scope="stints", at=now)
    assert fit(by=stranger, lot=their_lot).vendor == breckside


def test_a_fitter_does_not_take_from_another_vendors_trailer(fit, fitter, stranger, their_lot, front_lot):
    with pytest.raises(NotFound):
        fit(by=fitter, lot=their_lot)
    with pytest.raises(NotFound):
        fit(by=stranger, lot=front_lot)

    assert (left_at(their_lot, "trailer"), left_at(front_lot, "trailer")) == (4, 4)


def test_a_rider_takes_nothing_from_stock_and_fits_in_no_vendors_name(
    fit, rider_person, front_lot, own_tire, tarn
):
    with pytest.raises(NotFound):
        fit(by=rider_person, lot=front_lot)
    with pytest.raises(NotFound):
        fit(by=rider_person, tire=own_tire, vendor=tarn)

    assert not Fitting.objects.exists()


def test_a_rider_does_not_touch_another_riders_wheels_or_tires(
    fit, take_off, own_tire, other_rider, rider, front_spec, now
):
    them = other_rider.person
    fitting = fit(tire=own_tire)

    with pytest.raises(NotFound):
        fit(by=them, tire=own_tire)
    with pytest.raises(NotFound):
        take_off(fitting, by=them)
    with pytest.raises(NotFound):
        void_fitting(by=them, at=now, fitting=fitting, reason="mischief")
    with pytest.raises(NotFound):
        add_own_tire(by=them, at=now, rider=rider, spec=front_spec)

    assert Tire.objects.count() == 1


def test_a_vendor_without_this_customer_takes_nothing_off(fit, take_off, stranger, breckside, front_lot):
    fitting = fit(lot=front_lot)

    with pytest.raises(NotFound):
        take_off(fitting, by=stranger, vendor=breckside)
    with pytest.raises(NotFound):
        take_off(fitting, by=stranger, vendor=fitting.vendor)
    with pytest.raises(NotFound):
        take_off(fitting, by=stranger)


def test_a_rider_cannot_put_a_bought_tire_back_into_the_vendors_stock(fit, rider_person, front_lot, now):
    fitting = fit(lot=front_lot)

    with pytest.raises(NotFound):
        void_fitting(by=rider_person, at=now, fitting=fitting, reason="I want my money back")

    assert left_at(front_lot, "trailer") == 3


def test_only_those_who_may_remove_void_a_removal(
    fit, take_off, own_tire, stranger, breckside, fitter, tarn, now
):
    removal = take_off(fit(tire=own_tire))

    with pytest.raises(NotFound):
        void_removal(by=stranger, at=now, removal=removal, reason="mischief", vendor=breckside)
    with pytest.raises(NotFound):
        void_removal(by=stranger, at=now, removal=removal, reason="mischief")

    assert (
        void_removal(by=fitter, at=now, removal=removal, reason="wrong row", vendor=tarn).voided_by == fitter
    )


def test_an_organisers_people_fit_and_remove_nothing(
    fit, take_off, front_lot, own_tire, director, longfield, entry
):
    fitting = fit(tire=own_tire)

    with pytest.raises(NotFound):
        fit(by=director, lot=front_lot)
    with pytest.raises(NotAllowed):
        take_off(fitting, by=director, vendor=longfield)


def test_fittings_are_seen_by_the_rider_and_the_serving_vendor_only(
    fit, front_lot, rider_person, fitter, stranger, other_rider, crew, entry
):
    fitting = fit(lot=front_lot)

    assert list(fittings_for(rider_person)) == list(fittings_for(fitter)) == [fitting]
    assert [fittings_for(by).count() for by in (stranger, other_rider.person, crew)] == [0, 0, 0]


def test_a_ticket_alone_never_comes_from_outside(wheel_pair, stranger, tarn, now):
    with pytest.raises(NotFound):
        take_wheels_in(by=stranger, at=now, vendor=tarn, wheel_pair=wheel_pair, opened_on=now.date())

    assert not JobTicket.objects.exists()
