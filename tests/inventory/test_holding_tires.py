"""Holds: who may stop a tire, and who lets it run again."""

import uuid
from datetime import timedelta

import pytest

from fleet.accounts.policy import SERVICE
from fleet.errors import InTheFuture, Invalid, KeyReused, NotAllowed, NotFound
from fleet.inventory.actions import lift_hold, place_hold, remove_tire
from fleet.inventory.errors import HoldLifted, TireOnHold
from fleet.inventory.models import Hold
from fleet.inventory.queries import is_on_hold


@pytest.fixture
def tire(fitted):
    """Robin's front tire, sold by Tarn."""
    return fitted["front"].tire


@pytest.fixture
def hold(tire, now):
    def do(**changes):
        given = {"by": SERVICE, "at": now, "tire": tire, "reason": "inspection", "placed_at": now}
        return place_hold(**(given | changes))

    return do


def test_a_hold_stops_the_fitting_until_it_is_lifted_with_a_reason(
    hold, tire, fitted, fit, inspector, entry, longfield, now
):
    placed = hold(by=inspector, placed_for=longfield, note="cut in the shoulder")
    remove_tire(
        by=SERVICE,
        at=now,
        fitting=fitted["front"],
        removed_at=now,
        reason="damaged",
        destination="handed_back",
    )

    with pytest.raises(TireOnHold, match="ask who placed the hold"):
        fit(tire=tire, fitted_at=now)

    lift_hold(by=inspector, at=now, hold=placed, reason="only the surface is cut")
    assert fit(tire=tire, fitted_at=now).pk


def test_a_lifted_hold_says_who_when_and_why_and_is_lifted_once(hold, inspector, entry, longfield, now):
    placed = hold(by=inspector, placed_for=longfield)

    lifted = lift_hold(by=inspector, at=now, hold=placed, reason=" looked again ")

    assert (lifted.lifted_by, lifted.lifted_at, lifted.lift_reason) == (inspector, now, "looked again")
    with pytest.raises(HoldLifted):
        lift_hold(by=inspector, at=now, hold=placed, reason="again")


def test_a_hold_is_not_lifted_without_a_reason(hold, tarn, tire, now):
    placed = hold(placed_for=tarn)

    with pytest.raises(Invalid) as refused:
        lift_hold(by=SERVICE, at=now, hold=placed, reason=" ")

    assert refused.value.field == "reason"
    assert is_on_hold(tire)


def test_two_holds_are_lifted_one_by_one(hold, tire, tarn, longfield, now):
    ours, theirs = hold(placed_for=tarn, reason="recall"), hold(placed_for=longfield)

    lift_hold(by=SERVICE, at=now, hold=ours, reason="not in the range")
    assert is_on_hold(tire)

    lift_hold(by=SERVICE, at=now, hold=theirs, reason="looked again")
    assert not is_on_hold(tire)


def test_a_hold_tomorrow_or_for_no_listed_reason_is_refused(hold, tarn, now):
    with pytest.raises(InTheFuture):
        hold(placed_for=tarn, placed_at=now + timedelta(days=1))
    with pytest.raises(Invalid) as refused:
        hold(placed_for=tarn, reason="a feeling")

    assert refused.value.field == "reason"
    assert not Hold.objects.exists()


def test_a_hold_sent_twice_is_one_hold_and_its_key_serves_no_other(hold, tarn):
    key = uuid.uuid4()

    assert hold(placed_for=tarn, key=key) == hold(placed_for=tarn, key=key)

    with pytest.raises(KeyReused):
        hold(placed_for=tarn, key=key, reason="damage")


def test_a_vendor_holds_what_it_sold_and_its_customers_tires(hold, fitter, tarn):
    assert hold(by=fitter, placed_for=tarn, reason="recall").recorded_by == fitter


def test_a_vendor_cannot_stop_another_vendors_customer(hold, stranger, breckside):
    with pytest.raises(NotFound):
        hold(by=stranger, placed_for=breckside, reason="recall")

    assert not Hold.objects.exists()


def test_an_inspector_holds_entrants_tires_only(hold, inspector, longfield):
    with pytest.raises(NotFound):
        hold(by=inspector, placed_for=longfield)


def test_thirty_days_after_the_event_the_entrants_tires_are_out_of_reach(
    hold, inspector, longfield, entry, now
):
    later = now + timedelta(days=31)

    with pytest.raises(NotFound):
        hold(by=inspector, at=later, placed_at=later, placed_for=longfield)

    assert hold(by=inspector, at=later - timedelta(days=1), placed_for=longfield).pk


def test_crew_director_tester_and_rider_place_no_holds(
    hold, crew, director, tester, rider_person, longfield, entry
):
    for member in (crew, director, tester):
        with pytest.raises(NotAllowed):
            hold(by=member, placed_for=longfield)
    with pytest.raises(NotFound):
        hold(by=rider_person, placed_for=longfield)


def test_nobody_places_or_lifts_a_hold_in_another_organisations_name(
    hold, fitter, inspector, stranger, rider_person, tarn, longfield, entry, now
):
    with pytest.raises(NotFound):
        hold(by=inspector, placed_for=tarn)
    with pytest.raises(NotFound):
        hold(by=fitter, placed_for=longfield)

    placed = hold(by=inspector, placed_for=longfield)
    for nobody in (fitter, stranger, rider_person):
        with pytest.raises(NotFound):
            lift_hold(by=nobody, at=now, hold=placed, reason="let me ride")
