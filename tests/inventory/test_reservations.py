"""Reserving tires: what is kept for riders is not sold to others, and who takes theirs uses them up."""

import uuid
from datetime import timedelta
from decimal import Decimal

import pytest

from fleet.accounts.models import Change
from fleet.accounts.policy import SERVICE
from fleet.errors import Invalid, KeyReused, NotAllowed, NotFound
from fleet.garage.actions import share
from fleet.inventory.actions import (
    confirm_reservation,
    end_reservation,
    fit_tire,
    list_spec,
    load_stock,
    move_stock,
    receive_lot,
    replace_tire,
    reserve,
    set_aside,
    void_fitting,
)
from fleet.inventory.availability import counted, open_reservations, reservations, reservations_for
from fleet.inventory.errors import NotOffered, ReservationOver, Reserved, TooFewLeft
from fleet.inventory.models import Fitting, StockMovement, Tire
from fleet.inventory.queries import serves
from fleet.inventory.reservation import Reservation
from fleet.inventory.reserved import expire_reservations
from fleet.notices.models import Notice


@pytest.fixture
def listed(tarn, front_spec, front_lot):
    """Four fronts on the trailer, for 148.50 each."""
    return list_spec(by=SERVICE, vendor=tarn, spec=front_spec, price=Decimal("148.50"))


@pytest.fixture
def ask(rider, tarn, front_spec, listed, now):
    """Robin reserves two fronts for today unless told otherwise."""

    def do(**changes):
        given = {
            "by": rider.person,
            "at": now,
            "rider": rider,
            "vendor": tarn,
            "spec": front_spec,
            "quantity": 2,
            "wanted_on": now.date(),
        }
        return reserve(**(given | changes))

    return do


@pytest.fixture
def customer(other_rider, tarn, now):
    """Ottie, whom Tarn serves too."""
    share(by=other_rider.person, rider=other_rider, organisation=tarn, scope="stints", at=now)
    return other_rider


def state_of(reservation):
    return reservations().get(pk=reservation.pk).state


def numbers(listing):
    found = counted().get(pk=listing.pk)
    return found.in_store, found.on_trailer, found.reserved, found.set_aside, found.free


def sell(lot, quantity, *, by, now, **changes):
    given = {"by": by, "at": now, "lot": lot, "kind": "sold", "place": "trailer", "moved_at": now}
    return move_stock(quantity=-quantity, **(given | changes))


def test_what_is_reserved_counts_at_once_against_what_is_free(ask, listed):
    reservation = ask()

    assert reservation.state == "asked"
    assert numbers(listed) == (0, 4, 2, 0, 2)


def test_the_same_key_again_is_the_same_reservation_and_another_content_is_refused(ask):
    key = uuid.uuid4()

    assert ask(key=key) == ask(key=key)
    assert Reservation.objects.count() == 1
    with pytest.raises(KeyReused):
        ask(key=key, quantity=1)


def test_more_than_is_free_is_refused_and_the_rider_reads_no_count(ask, customer):
    ask(quantity=3)

    with pytest.raises(TooFewLeft) as refusal:
        ask(by=customer.person, rider=customer, quantity=2)

    assert not any(letter.isdigit() for letter in refusal.value.sentence)
    assert ask(by=customer.person, rider=customer, quantity=1).quantity == 1


def test_the_crew_reserves_for_a_customer_reads_the_counts_and_confirms_by_it(ask, fitter):
    assert ask(by=fitter, quantity=3).state == "kept"

    with pytest.raises(TooFewLeft, match="1 of 4 are free, 3 are kept"):
        ask(by=fitter, quantity=2)


def test_one_rider_keeps_four_of_a_kind_and_no_more(ask):
    ask(quantity=3)

    with pytest.raises(Invalid, match="3 are kept for you already"):
        ask(quantity=2)


@pytest.mark.parametrize(("days", "said"), [(-2, "over"), (400, "a year at most")])
def test_a_day_that_is_over_or_far_away_is_refused(days, said, ask, now):
    with pytest.raises(Invalid, match=said):
        ask(wanted_on=now.date() + timedelta(days=days))


def test_a_vendor_that_does_not_sell_the_kind_is_refused(ask, breckside, rear_spec):
    with pytest.raises(NotOffered, match="Breckside Wheel Works does not sell"):
        ask(vendor=breckside)
    with pytest.raises(NotOffered):
        ask(spec=rear_spec)


def test_nobody_reserves_for_a_rider_they_do_not_serve(ask, other_rider, stranger, fitter, rider):
    for by, whose in ((stranger, rider), (fitter, other_rider), (other_rider.person, rider)):
        with pytest.raises((NotFound, NotAllowed)):
            ask(by=by, rider=whose)

    assert not Reservation.objects.exists()


def test_riders_see_their_own_and_the_trailer_those_of_its_vendor(
    ask, rider, other_rider, fitter, stock_manager, stranger, director
):
    reservation = ask()

    sees = [by for by in (rider.person, fitter, stock_manager) if reservation in reservations_for(by)]
    blind = [by for by in (other_rider.person, stranger, director) if reservation in reservations_for(by)]

    assert (len(sees), blind) == (3, [])


def test_the_last_reserved_tire_is_not_fitted_to_somebody_else(ask, customer, fitter, front_lot, now, fit):
    ask(by=customer.person, rider=customer, quantity=4)

    with pytest.raises(Reserved, match="4 of this kind are left and 4 are kept for riders who reserved"):
        fit(by=fitter, lot=front_lot, fitted_at=now)

    assert not Fitting.objects.exists()
    assert not Tire.objects.exists()


def test_what_is_free_beside_a_reservation_is_fitted_to_anybody(ask, customer, fitter, front_lot, now, fit):
    ask(by=customer.person, rider=customer, quantity=3)

    assert fit(by=fitter, lot=front_lot, fitted_at=now).movement.reservation is None


def test_a_fitting_for_the_rider_who_reserved_uses_the_reservation_up(
    ask, fitter, front_lot, now, fit, listed
):
    reservation = ask(quantity=1)

    fitting = fit(by=fitter, lot=front_lot, fitted_at=now)

    assert fitting.movement.reservation == reservation
    assert state_of(reservation) == "taken"
    assert numbers(listed) == (0, 3, 0, 0, 3)


def test_a_reserving_rider_gets_theirs_although_the_stock_became_too_small(
    ask, customer, fitter, front_lot, stock_manager, now, fit
):
    ask(), ask(by=customer.person, rider=customer)
    move_stock(
        by=stock_manager, at=now, lot=front_lot, kind="written_off", place="trailer", quantity=-1, moved_at=now,
        reason="cut",
    )  # fmt: skip

    assert fit(by=fitter, lot=front_lot, fitted_at=now).movement.reservation is not None


def test_a_replacement_uses_a_reservation_up_too_and_is_refused_beside_another(
    ask, customer, fitter, front_lot, fitted, wheel_pair, now
):
    mine = ask(quantity=1)
    change = {
        "by": fitter, "at": now, "wheel_pair": wheel_pair, "axle": "front", "fitted_at": now, "lot": front_lot,
        "reason": "worn", "destination": "scrapped",
    }  # fmt: skip

    assert replace_tire(**change).movement.reservation == mine
    ask(by=customer.person, rider=customer, quantity=2)
    with pytest.raises(Reserved):
        replace_tire(**change | {"at": now + timedelta(minutes=1), "fitted_at": now + timedelta(minutes=1)})


def test_voiding_the_fitting_gives_the_reservation_back(ask, fitter, front_lot, now, fit):
    reservation = ask(quantity=1)
    fitting = fit(by=fitter, lot=front_lot, fitted_at=now)

    void_fitting(by=fitter, at=now, fitting=fitting, reason="wrong axle")

    assert state_of(reservation) == "asked"


def test_a_fitting_sent_twice_takes_one_of_two(ask, fitter, front_lot, now, fit):
    reservation, key = ask(), uuid.uuid4()

    for _ in range(2):
        fit(by=fitter, lot=front_lot, fitted_at=now, key=key)

    assert reservations().get(pk=reservation.pk).taken == 1


def test_what_was_fitted_before_the_reservation_was_made_is_stored_when_it_arrives_late(
    ask, customer, fitter, front_lot, now, fit, listed
):
    ask(by=customer.person, rider=customer, quantity=4)

    assert fit(by=fitter, lot=front_lot, fitted_at=now - timedelta(hours=1)).movement.reservation is None
    assert numbers(listed) == (0, 3, 4, 0, -1)


def test_the_last_reserved_tire_is_sold_by_a_stock_manager_with_a_reason_only(
    ask, front_lot, stock_manager, now
):
    ask(quantity=4)

    with pytest.raises(Reserved):
        sell(front_lot, 1, by=stock_manager, now=now, reason="walked in")
    line = sell(front_lot, 1, by=stock_manager, now=now, despite_reserved="the rider called it off by phone")

    assert line.reason == "the rider called it off by phone"


def test_a_fitter_does_not_override_a_reservation(ask, customer, fitter, front_lot, now, fit):
    ask(by=customer.person, rider=customer, quantity=4)

    with pytest.raises(NotAllowed):
        fit(by=fitter, lot=front_lot, fitted_at=now, despite_reserved="he is in a hurry")


def test_a_sale_hands_over_what_is_reserved_and_no_more(ask, front_lot, stock_manager, now):
    reservation = ask()

    with pytest.raises(Invalid, match="2 of this reservation are left"):
        sell(front_lot, 3, by=stock_manager, now=now, reservation=reservation)
    sell(front_lot, 2, by=stock_manager, now=now, reservation=reservation)

    assert state_of(reservation) == "taken"
    with pytest.raises(Invalid, match="Nothing of this reservation is left"):
        sell(front_lot, 1, by=stock_manager, now=now, reservation=reservation)


def test_a_reservation_of_another_kind_pays_for_nothing(ask, rear_lot, stock_manager, now, tarn, rear_spec):
    list_spec(by=SERVICE, vendor=tarn, spec=rear_spec, price=Decimal(180))
    reservation, others = ask(), ask(spec=rear_spec, quantity=1)

    with pytest.raises(Invalid, match="another kind"):
        sell(rear_lot, 1, by=stock_manager, now=now, reservation=reservation)
    assert state_of(others) == "asked"


def test_a_recalled_lot_is_not_there_to_be_reserved(ask, recall):
    recall()

    with pytest.raises(TooFewLeft):
        ask(quantity=1)


def test_what_is_set_aside_on_the_trailer_is_not_sold_from_it_though_the_store_is_full(
    ask, customer, fitter, front_spec, front_lot, tarn, now, fit
):
    receive_lot(
        by=SERVICE, at=now, vendor=tarn, spec=front_spec, code="more", date_code="0826", quantity=9,
        received_at=now, place="store",
    )  # fmt: skip
    reservation = ask(by=customer.person, rider=customer, quantity=4)
    set_aside(by=fitter, at=now, reservation=reservation)

    with pytest.raises(Reserved, match="4 of this kind are left on the trailer and 4 are kept"):
        fit(by=fitter, lot=front_lot, fitted_at=now)


def test_only_what_lies_on_the_trailer_is_set_aside(ask, fitter, front_lot, stock_manager, now):
    reservation = ask()
    load_stock(by=stock_manager, at=now, lot=front_lot, quantity=-3, loaded_at=now)

    with pytest.raises(TooFewLeft, match="1 of these lie on the trailer"):
        set_aside(by=fitter, at=now, reservation=reservation)


def test_a_step_is_taken_once_and_told_once(ask, fitter, rider, now):
    reservation = ask()

    for _ in range(2):
        confirm_reservation(by=fitter, at=now, reservation=reservation)
        set_aside(by=fitter, at=now, reservation=reservation)

    told = Notice.objects.filter(person=rider.person, topic="reservation").order_by("told_at", "about")
    assert [one.about.partition(":")[2] for one in told] == ["kept", "ready"]
    assert Change.objects.filter(row=reservation.pk, what="moved").count() == 2


def test_the_rider_takes_it_back_without_a_reason_and_the_crew_releases_it_with_one(ask, fitter, rider, now):
    mine, theirs = ask(quantity=1), ask(quantity=1)

    end_reservation(by=rider.person, at=now, reservation=mine)
    with pytest.raises(Invalid, match="with a reason"):
        end_reservation(by=fitter, at=now, reservation=theirs)
    end_reservation(by=fitter, at=now, reservation=theirs, reason="none came in")

    assert (state_of(mine), state_of(theirs)) == ("withdrawn", "released")
    assert "none came in" in Notice.objects.get(person=rider.person).sentence
    with pytest.raises(ReservationOver):
        end_reservation(by=rider.person, at=now, reservation=mine)


def test_strangers_move_and_end_nothing(ask, stranger, other_rider, director, now):
    reservation = ask()

    for by in (stranger, other_rider.person, director):
        for act in (confirm_reservation, set_aside, end_reservation):
            with pytest.raises(NotFound):
                act(by=by, at=now, reservation=reservation)


def test_a_reservation_opens_the_rider_to_the_vendor_until_it_ends(ask, other_rider, tarn, now):
    assert not serves(tarn, other_rider)

    reservation = ask(by=other_rider.person, rider=other_rider)
    assert serves(tarn, other_rider)

    end_reservation(by=other_rider.person, at=now, reservation=reservation)
    assert not serves(tarn, other_rider)


def test_nobody_came_so_it_ends_a_day_and_a_half_after_its_own_and_is_told_once(ask, rider, now, listed):
    reservation = ask()
    last = now.replace(hour=23, minute=59) + timedelta(days=1)

    assert expire_reservations(at=last) == 0
    assert expire_reservations(at=last + timedelta(minutes=1)) == 1
    assert expire_reservations(at=last + timedelta(minutes=2)) == 0

    assert state_of(reservation) == "expired"
    assert numbers(listed)[-1] == 4
    assert "Nobody came" in Notice.objects.get(person=rider.person).sentence


def test_a_taken_reservation_does_not_expire(ask, fitter, front_lot, now, fit):
    reservation = ask(quantity=1)
    fit(by=fitter, lot=front_lot, fitted_at=now)

    assert expire_reservations(at=now + timedelta(days=5)) == 0
    assert state_of(reservation) == "taken"


def test_the_service_replays_what_was_without_asking_for_stock(ask, rider, front_lot, now, wheel_pair):
    reservation = ask(by=SERVICE, quantity=9)

    fitting = fit_tire(
        by=SERVICE, at=now, wheel_pair=wheel_pair, axle="front", fitted_at=now, lot=front_lot,
        reservation=reservation,
    )  # fmt: skip

    assert fitting.movement.reservation == reservation
    assert open_reservations().get().taken == 1
    assert StockMovement.objects.filter(reservation=reservation).count() == 1
