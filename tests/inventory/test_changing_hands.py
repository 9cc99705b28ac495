"""A tire goes from one rider to another: both agree, its history goes along, and each keeps what is theirs."""

from datetime import timedelta

import pytest

from fleet.accounts.models import Change
from fleet.accounts.policy import SERVICE
from fleet.errors import Conflict, NotAllowed, NotFound
from fleet.garage.actions import add_bike, add_wheel_pair
from fleet.history.queries import Wanted, history_for
from fleet.inventory.actions import (
    accept_tire,
    add_own_tire,
    decline_tire,
    fit_tire,
    offer_tire,
    place_hold,
    remove_tire,
    take_wheels_in,
    void_fitting,
    void_removal,
    wish_for_wheel,
    withdraw_offer,
)
from fleet.inventory.errors import HandedOver, InUse, NotTheOwner, Recalled, Scrapped, TireOnHold
from fleet.inventory.handover import Handover
from fleet.life.histories import histories_of
from fleet.life.queries import tires_for
from fleet.life.usage import cycles_of
from fleet.running.actions import log_stint, note_surface, record_tread, void_reading
from fleet.running.models import PressureReading, TreadReading
from fleet.running.queries import pressures_for, stints_for, treads_for


@pytest.fixture
def taker(other_rider):
    return other_rider.person


@pytest.fixture
def used(stint, fitted, rider_person, now):
    """Robin's front: a stint with pressures, a tread reading, taken off ten minutes ago."""
    tire = fitted["front"].tire
    record_tread(
        by=rider_person, at=now, tire=tire, zone="C", taken_at=now - timedelta(minutes=15), depth_mm=4.1
    )
    remove_tire(
        by=rider_person,
        at=now,
        fitting=fitted["front"],
        removed_at=now - timedelta(minutes=10),
        reason="sold",
        destination="handed_back",
    )
    return tire


@pytest.fixture
def hand(rider_person, taker, now):
    """Hand a tire from Robin to Ottie."""

    def over(tire, at=now):
        _offer, token = offer_tire(by=rider_person, at=at, tire=tire)
        return accept_tire(by=taker, at=at, token=token)

    return over


def put_rear_on(pair, spec, now):
    tire = add_own_tire(by=SERVICE, at=now, rider=pair.bike.rider, spec=spec)
    since = now - timedelta(hours=6)
    fit_tire(by=SERVICE, at=now, wheel_pair=pair, axle="rear", fitted_at=since, tire=tire)


@pytest.fixture
def their_wheels(other_rider, rear_spec, now):
    """Ottie's wheels, with a rear on them."""
    bike = add_bike(by=SERVICE, rider=other_rider, code="b-002", description="600 sport")
    pair = add_wheel_pair(by=SERVICE, bike=bike, code="w-002", name="dry")
    put_rear_on(pair, rear_spec, now)
    return pair


def test_it_is_the_takers_with_every_kilometer_and_heat_cycle_it_had(used, hand, other_rider):
    (before,) = histories_of([used])

    hand(used)

    used.refresh_from_db()
    (after,) = histories_of([used])
    assert used.owner == other_rider
    assert [run.distance_km for run in after.runs] == [run.distance_km for run in before.runs] == [8 * 4.12]
    assert len(cycles_of(after)) == len(cycles_of(before))
    assert after.treads == before.treads


def test_nothing_changes_until_the_other_one_says_yes(used, rider_person, rider, now):
    offer_tire(by=rider_person, at=now, tire=used)

    used.refresh_from_db()
    assert used.owner == rider


def test_the_link_works_once_and_only_a_digest_of_it_is_stored(used, rider_person, taker, now):
    offer, token = offer_tire(by=rider_person, at=now, tire=used)
    accept_tire(by=taker, at=now, token=token)

    with pytest.raises(NotFound, match="used or is over"):
        accept_tire(by=taker, at=now, token=token)
    assert token not in str(Handover.objects.values().get())
    assert len(token) >= 43  # 256 bits in base64: RFC 4648, section 5
    assert offer.pk == Handover.objects.get().pk


@pytest.mark.parametrize("ended", ["withdrawn", "declined", "over", "replaced"])
def test_a_link_that_ended_gives_nothing(used, rider_person, rider, taker, now, ended):
    offer, token = offer_tire(by=rider_person, at=now, tire=used)
    at = now
    if ended == "withdrawn":
        withdraw_offer(by=rider_person, at=now, offer=offer)
    elif ended == "declined":
        decline_tire(by=taker, at=now, token=token)
    elif ended == "replaced":
        offer_tire(by=rider_person, at=now, tire=used)
    else:
        at = now + timedelta(days=7)

    with pytest.raises(NotFound, match="ask who gave it to you"):
        accept_tire(by=taker, at=at, token=token)
    used.refresh_from_db()
    assert used.owner == rider


def test_nobody_offers_a_strangers_tire_or_takes_back_their_link(used, rider_person, taker, now):
    with pytest.raises(NotFound):
        offer_tire(by=taker, at=now, tire=used)
    offer, _token = offer_tire(by=rider_person, at=now, tire=used)
    with pytest.raises(NotFound):
        withdraw_offer(by=taker, at=now, offer=offer)


def test_the_giver_does_not_take_it_and_a_fitter_without_a_garage_neither(used, rider_person, fitter, now):
    _offer, token = offer_tire(by=rider_person, at=now, tire=used)

    with pytest.raises(Conflict, match="is yours"):
        accept_tire(by=rider_person, at=now, token=token)
    with pytest.raises(NotAllowed, match="no rider record"):
        accept_tire(by=fitter, at=now, token=token)


def test_a_tire_on_a_wheel_is_taken_off_first(fitted, rider_person, now):
    with pytest.raises(InUse, match="take it off first"):
        offer_tire(by=rider_person, at=now, tire=fitted["front"].tire)


def test_one_fitted_after_the_link_was_made_is_not_taken_over(used, wheel_pair, rider_person, taker, now):
    _offer, token = offer_tire(by=rider_person, at=now, tire=used)
    fit_tire(by=rider_person, at=now, wheel_pair=wheel_pair, axle="front", fitted_at=now, tire=used)

    with pytest.raises(InUse):
        accept_tire(by=taker, at=now, token=token)


def test_a_tire_on_hold_recalled_or_scrapped_does_not_change_hands(
    used, recall, tarn, rider_person, rear_spec, front_spec, fit, take_off, rider, now
):
    place_hold(by=SERVICE, at=now, tire=used, placed_for=tarn, reason="damage", placed_at=now)
    with pytest.raises(TireOnHold):
        offer_tire(by=rider_person, at=now, tire=used)
    scrap = add_own_tire(by=SERVICE, at=now, rider=rider, spec=front_spec, identification="2024")
    take_off(fit(tire=scrap, fitted_at=now - timedelta(minutes=8)), removed_at=now, destination="scrapped")
    with pytest.raises(Scrapped):
        offer_tire(by=rider_person, at=now, tire=scrap)
    recall(spec=rear_spec)
    touched = add_own_tire(by=SERVICE, at=now, rider=rider, spec=rear_spec, identification="0826")
    with pytest.raises(Recalled, match="not handed over"):
        offer_tire(by=rider_person, at=now, tire=touched)


def test_a_tire_that_waits_at_a_trailer_to_be_fitted_stays(used, tarn, wheel_pair, rider_person, now):
    ticket = take_wheels_in(by=SERVICE, at=now, vendor=tarn, wheel_pair=wheel_pair, opened_on=now.date())
    wish_for_wheel(by=SERVICE, at=now, ticket=ticket, axle="front", own_tire=used)

    with pytest.raises(InUse, match="waits at a trailer"):
        offer_tire(by=rider_person, at=now, tire=used)


def test_the_taker_reads_its_tread_and_none_of_the_givers_stints_pressures_and_notes(
    used, hand, rider_person, taker, now
):
    note_surface(by=rider_person, at=now, tire=used, look="even", seen_at=now, words="my own words")
    hand(used, at=now + timedelta(minutes=1))

    assert PressureReading.objects.filter(tire=used).exists()
    assert not pressures_for(taker, on=now.date()).exists()
    assert not stints_for(taker).exists()
    assert [row.depth_mm for row in treads_for(taker)] == [4.1]


def test_the_giver_keeps_their_own_and_sees_nothing_of_what_comes_after(
    used, hand, rider_person, taker, their_wheels, now
):
    hand(used)
    later = now + timedelta(hours=1)
    fit_tire(by=taker, at=later, wheel_pair=their_wheels, axle="front", fitted_at=now, tire=used)
    log_stint(
        by=taker, at=later, wheel_pair=their_wheels, started_at=now, ended_at=now + timedelta(minutes=20),
        distance_km=20.0, front_set_kpa=210.0,
    )  # fmt: skip
    record_tread(by=taker, at=later, tire=used, zone="C", taken_at=later, depth_mm=3.9)

    assert [row.depth_mm for row in treads_for(rider_person)] == [4.1]
    assert [row.pressure_kpa for row in pressures_for(rider_person, on=now.date()).filter(tire=used)] == [
        205.0
    ]
    assert [row.pressure_kpa for row in pressures_for(taker, on=now.date())] == [210.0]
    assert stints_for(rider_person).count() == stints_for(taker).count() == 1
    assert used not in tires_for(rider_person, on=now.date())
    assert used in tires_for(taker, on=now.date())


def test_between_three_hands_everybody_reads_the_pressures_of_their_own_time(
    rider, rider_person, taker, front_spec, rear_spec, wheel_pair, their_wheels, now
):
    put_rear_on(wheel_pair, rear_spec, now)
    tire = add_own_tire(by=SERVICE, at=now, rider=rider, spec=front_spec)

    def ride(by, pair, since, kpa):
        fitting = fit_tire(by=by, at=now, wheel_pair=pair, axle="front", fitted_at=since, tire=tire)
        log_stint(
            by=by, at=now, wheel_pair=pair, started_at=since, ended_at=since + timedelta(minutes=10),
            distance_km=10.0, front_set_kpa=kpa,
        )  # fmt: skip
        off = since + timedelta(minutes=20)
        remove_tire(by=by, at=now, fitting=fitting, removed_at=off, reason="sold", destination="handed_back")

    def give(by, to, at):
        _offer, token = offer_tire(by=by, at=at, tire=tire)
        accept_tire(by=to, at=at, token=token)
        tire.refresh_from_db()

    start = now - timedelta(hours=5)
    for hours, by, to, pair in ((0, rider_person, taker, wheel_pair), (1, taker, rider_person, their_wheels)):
        ride(by, pair, start + timedelta(hours=hours), 200.0 + hours)
        give(by, to, start + timedelta(hours=hours, minutes=30))
    ride(rider_person, wheel_pair, start + timedelta(hours=2), 202.0)

    def read_by(person):
        return sorted(row.pressure_kpa for row in pressures_for(person, on=now.date()))

    assert read_by(rider_person) == [200.0, 202.0]
    assert read_by(taker) == [201.0]
    (history,) = histories_of([tire])
    assert len(history.runs) == 3


def test_each_side_voids_only_what_was_written_in_their_time(used, hand, rider_person, taker, now):
    hand(used)
    reading = TreadReading.objects.get()

    with pytest.raises(NotFound):
        void_reading(by=taker, at=now, reading=reading, reason="not mine")
    void_reading(by=rider_person, at=now, reading=reading, reason="slipped")
    assert TreadReading.objects.standing().count() == 0


def test_what_was_done_before_is_not_undone_after(used, hand, rider_person, fitted, now):
    removal = fitted["front"].removals.get()
    hand(used)

    with pytest.raises(HandedOver):
        void_removal(by=rider_person, at=now, removal=removal, reason="not off after all")
    with pytest.raises(HandedOver):
        void_fitting(by=SERVICE, at=now, fitting=fitted["front"], reason="never on")


def test_the_giver_fits_it_no_more_and_the_taker_not_before_it_was_theirs(
    used, hand, wheel_pair, their_wheels, rider_person, taker, now
):
    hand(used)

    with pytest.raises(NotTheOwner):
        fit_tire(by=rider_person, at=now, wheel_pair=wheel_pair, axle="front", fitted_at=now, tire=used)
    with pytest.raises(HandedOver, match="give a time after that"):
        fit_tire(
            by=taker, at=now, wheel_pair=their_wheels, axle="front",
            fitted_at=now - timedelta(minutes=5), tire=used,
        )  # fmt: skip
    assert fit_tire(by=taker, at=now, wheel_pair=their_wheels, axle="front", fitted_at=now, tire=used).pk


def test_a_fitting_by_a_giver_who_looked_before_it_changed_hands_is_refused(
    used, hand, wheel_pair, rider_person, now
):
    known = type(used).objects.select_related("owner", "spec__line").get(pk=used.pk)
    hand(used)

    with pytest.raises(NotTheOwner):
        fit_tire(by=rider_person, at=now, wheel_pair=wheel_pair, axle="front", fitted_at=now, tire=known)


def test_the_trail_tells_each_side_without_naming_the_other(used, hand, rider, other_rider, taker, now):
    hand(used)

    lines = Change.objects.filter(row=used.pk)
    assert {(line.what, line.rider) for line in lines} == {("moved", rider.pk), ("claimed", other_rider.pk)}
    told = history_for(rider.person, wanted=Wanted(about=used.pk, what="moved"), rows=5)[0]
    assert [line.by for line in told] == ["somebody else"]
    read = history_for(taker, wanted=Wanted(), rows=50)[0]
    assert not {line.noun for line in read} & {"pressure_reading", "tread_reading", "stint"}
    assert str(rider.pk) not in str(read)


def test_a_vendor_sees_the_tire_by_whom_it_serves(used, hand, fitter, now):
    assert used in tires_for(fitter, on=now.date())

    hand(used)

    assert used not in tires_for(fitter, on=now.date())
