"""Putting tires on wheels: from stock, or the rider's own, and what is refused."""

import uuid
from datetime import date, timedelta

import pytest

from fleet.accounts.policy import SERVICE
from fleet.errors import InTheFuture, Invalid, KeyReused
from fleet.garage.actions import add_bike, add_wheel_pair
from fleet.guards import Overlap, SoldOut
from fleet.inventory.actions import add_own_tire, fit_tire, take_wheels_in
from fleet.inventory.errors import FittedBeforeMade, NotTheOwner, WrongAxle
from fleet.inventory.models import Fitting, Tire
from fleet.inventory.queries import fitted_at, fitted_now, left_at


def test_a_tire_from_stock_becomes_the_riders_and_the_ledger_drops_by_one(fit, fitter, front_lot, rider):
    fitting = fit(by=fitter, lot=front_lot)

    assert left_at(front_lot, "trailer") == 3
    assert (fitting.tire.owner, fitting.tire.made_on) == (rider, front_lot.made_on)
    assert (fitting.vendor, fitting.recorded_by) == (front_lot.vendor, fitter)
    assert fitting.movement.kind == "fitted"


def test_a_rider_fits_their_own_tire(fit, rider_person, own_tire, wheel_pair):
    fitting = fit(by=rider_person, tire=own_tire)

    assert list(fitted_now(wheel_pair)) == [fitting]
    assert fitting.movement is None


def test_a_fitting_tells_the_jobs_that_the_tire_changed(fit, own_tire):
    before = own_tire.revision

    fit(tire=own_tire)

    own_tire.refresh_from_db()
    assert own_tire.revision > before


def test_what_was_on_a_wheel_is_known_for_every_moment(fit, take_off, own_tire, front_lot, wheel_pair, now):
    first = fit(tire=own_tire, fitted_at=now - timedelta(hours=5))
    take_off(first, removed_at=now - timedelta(hours=2))
    second = fit(lot=front_lot, fitted_at=now - timedelta(hours=2))

    moments = [now - timedelta(hours=hours) for hours in (6, 5, 3, 2, 0)]

    on_it = [[f.pk for f in fitted_at([wheel_pair.pk], moment)] for moment in moments]
    assert on_it == [[], [first.pk], [first.pk], [second.pk], [second.pk]]


# The layout of 13 symbols is that of 49 CFR 574.5 (since the rule of 13 April 2015): plant, maker's symbols, week, year.
def test_an_identification_number_is_kept_in_capitals(fit, front_lot):
    fitting = fit(lot=front_lot, identification="1m3 72b4yr 0826 ".replace(" ", ""))

    assert fitting.tire.identification == "1M372B4YR0826"


@pytest.mark.parametrize(
    ("identification", "says"),
    [
        ("1M372B4YR3026", "in the past"),
        ("1M372B4YR0726", "another week of manufacture than the lot"),
        ("5R5691439T", "must end with the"),  # NHTSA interpretation: a letter after the date is not valid
        ("1M372B4YR0O26", "is it the digit 0"),
        ("031", "leaves the decade open"),  # 49 CFR 574.5: third week of 1981 or 1991
    ],
)
def test_an_identification_number_that_cannot_be_is_refused_and_the_stock_stays(
    identification, says, fit, front_lot
):
    with pytest.raises(Invalid, match=says) as refused:
        fit(lot=front_lot, identification=identification)

    assert refused.value.field == "identification"
    assert left_at(front_lot, "trailer") == 4


def test_a_sold_out_lot_is_not_fitted_from(fit, move, front_lot):
    move(front_lot, "sold", -4)

    with pytest.raises(SoldOut):
        fit(lot=front_lot)

    assert not Tire.objects.exists()


def test_stock_that_lies_in_the_store_is_not_fitted_at_the_trailer(fit, front_lot):
    with pytest.raises(SoldOut):
        fit(lot=front_lot, place="store")


def test_a_rear_tire_does_not_go_on_the_front(fit, rear_lot):
    with pytest.raises(WrongAxle, match="is a rear tire: it does not go on the front axle"):
        fit(axle="front", lot=rear_lot)

    assert left_at(rear_lot, "trailer") == 4


def test_an_axle_holds_one_tire_at_a_time(fit, front_lot, own_tire):
    fit(lot=front_lot)

    with pytest.raises(Overlap, match="axle holds another tire"):
        fit(tire=own_tire)


def test_a_tire_is_on_one_wheel_pair_at_a_time(fit, own_tire, bike):
    wet = add_wheel_pair(by=SERVICE, bike=bike, code="w-2", name="wet")
    fit(tire=own_tire)

    with pytest.raises(Overlap, match="tire is on another wheel"):
        fit(tire=own_tire, wheel_pair=wet)


def test_fittings_do_not_overlap_in_the_past_either(fit, take_off, own_tire, front_lot, now):
    take_off(fit(tire=own_tire, fitted_at=now - timedelta(hours=9)), removed_at=now - timedelta(hours=5))

    with pytest.raises(Overlap):
        fit(lot=front_lot, fitted_at=now - timedelta(hours=6))

    assert left_at(front_lot, "trailer") == 4


def test_a_tire_goes_on_no_other_riders_wheels(fit, own_tire, other_rider):
    theirs = add_bike(by=SERVICE, rider=other_rider, code="b-2", description="600 sport")
    wheels = add_wheel_pair(by=SERVICE, bike=theirs, code="w-2", name="dry")

    with pytest.raises(NotTheOwner):
        fit(tire=own_tire, wheel_pair=wheels)


def test_nothing_is_fitted_before_it_was_made(fit, rider, front_spec, now):
    tire = add_own_tire(by=SERVICE, at=now, rider=rider, spec=front_spec, identification="2026")

    with pytest.raises(FittedBeforeMade, match="17 May 2026"):
        fit(tire=tire, fitted_at=now.replace(month=5, day=1))


def test_weeks_of_manufacture_are_counted_with_one_week_of_tolerance(fit, rider, front_spec, now):
    tire = add_own_tire(by=SERVICE, at=now, rider=rider, spec=front_spec, identification="2426")

    fitting = fit(tire=tire)

    assert tire.made_on == date(2026, 6, 14)  # two days after the fitting by the regulation's count
    assert fitting.fitted_at.date() == date(2026, 6, 12)


def test_a_tire_of_unknown_age_is_fitted_and_its_age_stays_unknown(fit, rider, front_spec, now):
    tire = add_own_tire(by=SERVICE, at=now, rider=rider, spec=front_spec)

    assert fit(tire=tire).tire.made_on is None


def test_a_fitting_tomorrow_is_refused_but_a_clock_may_be_five_minutes_fast(fit, own_tire, now):
    with pytest.raises(InTheFuture, match="has not come yet"):
        fit(tire=own_tire, fitted_at=now + timedelta(minutes=6))

    assert fit(tire=own_tire, fitted_at=now + timedelta(minutes=4)).pk


def test_a_fitting_takes_exactly_one_tire(fit, front_lot, own_tire):
    with pytest.raises(Invalid, match="exactly one"):
        fit()
    with pytest.raises(Invalid, match="exactly one"):
        fit(lot=front_lot, tire=own_tire)

    assert left_at(front_lot, "trailer") == 4


def test_a_label_code_is_given_once(fit, front_lot, own_tire):
    with pytest.raises(Invalid) as refused:
        fit(lot=front_lot, label_code=own_tire.label_code)

    assert refused.value.field == "label_code"


def test_a_ticket_belongs_to_the_wheels_and_the_vendor(
    fit, bike, wheel_pair, front_lot, tarn, breckside, now
):
    other = add_wheel_pair(by=SERVICE, bike=bike, code="w-2", name="wet")
    ours, for_other_wheels, elsewhere = (
        take_wheels_in(by=SERVICE, at=now, vendor=vendor, wheel_pair=pair, opened_on=now.date())
        for vendor, pair in ((tarn, wheel_pair), (tarn, other), (breckside, wheel_pair))
    )

    for wrong in (for_other_wheels, elsewhere):
        with pytest.raises(Invalid) as refused:
            fit(lot=front_lot, ticket=wrong)
        assert refused.value.field == "ticket"

    assert fit(lot=front_lot, ticket=ours).ticket == ours


def test_a_lot_is_fitted_in_its_own_vendors_name(fit, front_lot, breckside):
    with pytest.raises(Invalid) as refused:
        fit(lot=front_lot, vendor=breckside)

    assert refused.value.field == "vendor"


def test_a_fitting_sent_twice_is_stored_once(fit, front_lot):
    key = uuid.uuid4()

    first, second = fit(lot=front_lot, key=key), fit(lot=front_lot, key=key)

    assert first == second
    assert (Fitting.objects.count(), left_at(front_lot, "trailer")) == (1, 3)


def test_a_key_does_not_serve_another_fitting(fit, front_lot, own_tire, now):
    key = uuid.uuid4()
    fit(lot=front_lot, key=key)

    with pytest.raises(KeyReused, match="fitted_at"):
        fit(lot=front_lot, fitted_at=now - timedelta(hours=2), key=key)
    with pytest.raises(KeyReused, match="send a new entry with a new key"):
        fit(tire=own_tire, key=key)

    assert Fitting.objects.count() == 1


def test_a_fitting_does_not_need_its_action_imported_by_name(wheel_pair, front_lot, now):
    """The smallest call: everything else has a default."""
    fitting = fit_tire(by=SERVICE, at=now, wheel_pair=wheel_pair, axle="front", fitted_at=now, lot=front_lot)

    assert fitting.removed_at is None
