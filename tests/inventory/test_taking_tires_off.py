"""Taking tires off, voiding what was wrong, and what a stint holds fast."""

import uuid
from datetime import timedelta

import pytest

from fleet.accounts.policy import SERVICE
from fleet.errors import AlreadyVoided, InTheFuture, Invalid, KeyReused
from fleet.guards import HasRun, Overlap
from fleet.inventory.actions import void_fitting, void_removal
from fleet.inventory.errors import BackInStock, FittedSince, NotFitted, Scrapped, TireOnHold
from fleet.inventory.models import Fitting, Hold, Removal
from fleet.inventory.queries import fitted_now, is_on_hold, left_at
from fleet.running.actions import void_stint


def test_a_removal_ends_the_fitting_and_says_where_the_tire_went(fit, take_off, own_tire, wheel_pair):
    removal = take_off(fit(tire=own_tire), reason="worn", destination="scrapped")

    assert removal.fitting.removed_at == removal.removed_at
    assert not fitted_now(wheel_pair).exists()


def test_nothing_is_removed_before_it_was_fitted(fit, take_off, own_tire, now):
    fitting = fit(tire=own_tire)

    with pytest.raises(Invalid, match="removed after it was fitted"):
        take_off(fitting, removed_at=now - timedelta(hours=3))

    assert Fitting.objects.get().removed_at is None


def test_nothing_is_removed_tomorrow(fit, take_off, own_tire, now):
    fitting = fit(tire=own_tire)

    with pytest.raises(InTheFuture) as refused:
        take_off(fitting, removed_at=now + timedelta(days=1))

    assert refused.value.field == "removed_at"


def test_what_is_on_no_wheel_is_not_removed_even_from_an_old_copy(fit, take_off, own_tire):
    fitting = fit(tire=own_tire)
    old_copy = Fitting.objects.get()
    take_off(fitting)

    for copy in (fitting, old_copy):
        with pytest.raises(NotFitted):
            take_off(copy)

    assert Removal.objects.count() == 1


@pytest.mark.parametrize(("field", "value"), [("reason", "bored"), ("destination", "the moon")])
def test_a_removal_uses_the_listed_words(field, value, fit, take_off, own_tire):
    fitting = fit(tire=own_tire)

    with pytest.raises(Invalid) as refused:
        take_off(fitting, **{field: value})

    assert refused.value.field == field
    assert Fitting.objects.get().removed_at is None


def test_a_removal_sent_twice_is_stored_once_and_its_key_serves_no_other(fit, take_off, own_tire):
    fitting, key = fit(tire=own_tire), uuid.uuid4()

    assert take_off(fitting, key=key) == take_off(fitting, key=key)

    with pytest.raises(KeyReused):
        take_off(fitting, key=key, reason="worn")
    assert Removal.objects.count() == 1


def test_a_scrapped_tire_is_not_fitted_again_until_that_removal_is_voided(fit, take_off, own_tire, now):
    removal = take_off(fit(tire=own_tire), destination="scrapped")

    with pytest.raises(Scrapped):
        fit(tire=own_tire, fitted_at=now)

    void_removal(by=SERVICE, at=now, removal=removal, reason="wrong tire taken off the list")
    assert list(fitted_now(removal.fitting.wheel_pair)) == [removal.fitting]


def test_a_tire_taken_off_on_hold_is_held_for_the_vendor(fit, take_off, own_tire, tarn, fitter, now):
    removal = take_off(fit(tire=own_tire), by=fitter, vendor=tarn, reason="damaged", destination="on_hold")

    assert is_on_hold(removal.fitting.tire)
    assert Hold.objects.get().placed_for == tarn
    with pytest.raises(TireOnHold):
        fit(tire=own_tire, fitted_at=now)


def test_a_hold_needs_the_vendor_that_keeps_it(fit, take_off, own_tire):
    fitting = fit(tire=own_tire)

    with pytest.raises(Invalid) as refused:
        take_off(fitting, destination="on_hold")

    assert refused.value.field == "vendor"
    assert Fitting.objects.get().removed_at is None


def test_a_voided_removal_puts_the_tire_back_unless_another_took_its_place(
    fit, take_off, own_tire, front_lot, now
):
    removal = take_off(fit(tire=own_tire))
    fit(lot=front_lot, fitted_at=now)

    with pytest.raises(Overlap):
        void_removal(by=SERVICE, at=now, removal=removal, reason="never came off")

    assert Removal.objects.get().voided_at is None
    assert Fitting.objects.get(pk=removal.fitting_id).removed_at is not None


def test_a_voided_fitting_stays_visible_with_who_when_and_why(fit, fitter, front_lot, now):
    fitting = fit(lot=front_lot)

    void_fitting(by=fitter, at=now, fitting=fitting, reason=" wrong wheel ")

    kept = Fitting.objects.get()
    assert (kept.voided_by, kept.voided_at, kept.void_reason) == (fitter, now, "wrong wheel")
    assert left_at(front_lot, "trailer") == 4


def test_a_voided_fitting_makes_room_for_the_right_one(fit, front_lot, own_tire, now):
    void_fitting(by=SERVICE, at=now, fitting=fit(tire=own_tire), reason="wrong tire")

    assert fit(lot=front_lot).pk


def test_voiding_needs_a_reason_and_happens_once(fit, front_lot, now):
    fitting = fit(lot=front_lot)

    with pytest.raises(Invalid) as refused:
        void_fitting(by=SERVICE, at=now, fitting=fitting, reason=" ")
    assert refused.value.field == "reason"

    void_fitting(by=SERVICE, at=now, fitting=fitting, reason="wrong wheel")
    with pytest.raises(AlreadyVoided):
        void_fitting(by=SERVICE, at=now, fitting=fitting, reason="wrong wheel")
    assert left_at(front_lot, "trailer") == 4


def test_a_tire_back_in_stock_is_no_longer_the_riders_to_fit(fit, front_lot, now):
    fitting = fit(lot=front_lot)
    void_fitting(by=SERVICE, at=now, fitting=fitting, reason="wrong wheel")

    with pytest.raises(BackInStock):
        fit(tire=fitting.tire)


def test_a_tire_fitted_again_since_does_not_go_back_into_stock(fit, take_off, front_lot, now):
    first = fit(lot=front_lot)
    take_off(first)
    fit(tire=first.tire, fitted_at=now)

    with pytest.raises(FittedSince):
        void_fitting(by=SERVICE, at=now, fitting=first, reason="wrong wheel")

    assert left_at(front_lot, "trailer") == 3


def test_no_stint_is_left_without_its_tires(stint, fitted, take_off, now):
    during = stint.started_at + timedelta(minutes=5)

    with pytest.raises(HasRun, match="A stint ran on this tire"):
        take_off(fitted["front"], removed_at=during)
    with pytest.raises(HasRun):
        void_fitting(by=SERVICE, at=now, fitting=fitted["rear"], reason="wrong tire")

    assert not Fitting.objects.exclude(removed_at=None, voided_at=None).exists()


def test_a_tire_comes_off_when_its_stint_has_ended(stint, fitted, take_off):
    assert take_off(fitted["front"], removed_at=stint.ended_at).pk


def test_once_the_stint_is_voided_the_fitting_can_be(stint, fitted, rider_person, now):
    void_stint(by=rider_person, at=now, stint=stint, reason="did not go out")

    void_fitting(by=SERVICE, at=now, fitting=fitted["rear"], reason="wrong tire")

    assert Fitting.objects.filter(voided_at=now).count() == 1
