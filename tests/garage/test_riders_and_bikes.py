"""Riders, bikes, wheel pairs, instruments, and whom riders let look."""

from datetime import timedelta

import pytest

from fleet.accounts.policy import SERVICE
from fleet.errors import Invalid, NotAllowed, NotFound
from fleet.garage.actions import (
    add_bike,
    add_instrument,
    add_wheel_pair,
    correct_rider,
    register_rider,
    share,
    take_back,
    use_wheel_pair,
)
from fleet.garage.models import Instrument, Rider, Sharing, WheelPair
from fleet.garage.queries import sharings_of, walk_ins_of
from fleet.inventory.queries import riders_served
from fleet.running.queries import stints_for


def test_a_rider_makes_their_own_record(rider_person, tarn):
    rider = register_rider(
        by=rider_person, code="r-9", name="Robin Vale", person=rider_person, registered_with=tarn
    )

    assert rider.person == rider_person


def test_a_fitter_registers_a_walk_in_without_an_account(fitter, tarn):
    rider = register_rider(by=fitter, code="r-9", name="Wil Stroud", registered_with=tarn)

    assert rider.person is None


@pytest.mark.parametrize("who", ["crew", "director"])
def test_an_organisers_crew_registers_a_walk_in_with_bike_and_wheels_until_there_is_an_account(
    request, who, longfield, rider_person
):
    by = request.getfixturevalue(who)
    rider = register_rider(by=by, code="r-9", name="Wil Stroud", contact="gate", registered_with=longfield)
    bike = add_bike(by=by, rider=rider, code="b-9", description="600 sport")
    pair = add_wheel_pair(by=by, bike=bike, code="w-9", name="dry")
    correct_rider(by=by, rider=rider, name="Will Stroud")

    assert list(walk_ins_of(by)) == [rider]
    assert pair.bike.rider.name == "Will Stroud"
    Rider.objects.update(person=rider_person)
    rider.refresh_from_db()
    assert not walk_ins_of(by).exists()
    with pytest.raises(NotAllowed):
        add_bike(by=by, rider=rider, code="b-10", description="600 sport")
    with pytest.raises(NotAllowed):
        correct_rider(by=by, rider=rider, name="Wil Stroud")


def test_a_vendors_crew_finds_no_walk_in_of_an_organiser(crew, fitter, longfield, tarn):
    rider = register_rider(by=crew, code="r-9", name="Wil Stroud", registered_with=longfield)

    assert not walk_ins_of(fitter).exists()
    assert not riders_served(crew).exists()
    with pytest.raises(NotFound):
        add_bike(by=fitter, rider=rider, code="b-9", description="600 sport")


def test_a_fitter_cannot_register_a_walk_in_on_somebodys_account(fitter, tarn, rider_person):
    rider = register_rider(
        by=fitter, code="r-9", name="Wil Stroud", registered_with=tarn, person=rider_person
    )

    assert rider.person is None


def test_nobody_registers_riders_for_a_vendor_they_do_not_work_for(
    stranger, crew, inspector, tarn, longfield
):
    with pytest.raises(NotFound):
        register_rider(by=stranger, code="r-9", name="Wil Stroud", registered_with=tarn)
    with pytest.raises(NotFound):
        register_rider(by=crew, code="r-9", name="Wil Stroud", registered_with=tarn)
    with pytest.raises(NotAllowed):
        register_rider(by=inspector, code="r-9", name="Wil Stroud", registered_with=longfield)
    with pytest.raises(NotFound):
        register_rider(by=stranger, code="r-9", name="Wil Stroud")

    assert not Rider.objects.exists()


def test_one_account_is_one_rider(rider, rider_person):
    with pytest.raises(Invalid) as refused:
        register_rider(by=rider_person, code="r-9", name="Robin Again", person=rider_person)

    assert refused.value.field == "person"


def test_a_bike_is_added_by_its_rider_or_the_crew_the_rider_registered_with(
    rider, rider_person, fitter, stranger, crew
):
    add_bike(by=rider_person, rider=rider, code="b-1", description="600 sport")
    add_bike(by=fitter, rider=rider, code="b-2", description="300 single")

    for nobody in (stranger, crew):
        with pytest.raises(NotFound):
            add_bike(by=nobody, rider=rider, code="b-3", description="600 sport")
    assert rider.bikes.count() == 2


@pytest.mark.parametrize(
    ("field", "value"),
    [("wheelbase_mm", 1.4), ("rake_deg", 240.0), ("front_rim_in", 17.0), ("rear_rim_in", float("inf"))],
)
def test_a_measure_in_another_unit_is_refused_at_its_field(field, value, rider):
    with pytest.raises(Invalid) as refused:
        add_bike(by=SERVICE, rider=rider, code="b-1", description="600 sport", **{field: value})

    assert refused.value.field == field


def test_putting_a_wheel_pair_in_use_puts_the_other_aside(rider_person, bike, wheel_pair):
    wet = add_wheel_pair(by=rider_person, bike=bike, code="w-2", name="wet")

    assert list(bike.wheel_pairs.filter(is_in_use=True)) == [wet]

    use_wheel_pair(by=rider_person, wheel_pair=wheel_pair)

    assert list(bike.wheel_pairs.filter(is_in_use=True)) == [wheel_pair]


def test_a_refused_wheel_pair_leaves_the_one_in_use_alone(rider_person, bike, wheel_pair):
    with pytest.raises(Invalid):
        add_wheel_pair(by=rider_person, bike=bike, code=wheel_pair.code, name="wet")

    assert WheelPair.objects.get(pk=wheel_pair.pk).is_in_use


def test_only_the_rider_changes_which_wheels_are_on_the_bike(wheel_pair, fitter, stranger):
    for nobody in (fitter, stranger):
        with pytest.raises(NotFound):
            use_wheel_pair(by=nobody, wheel_pair=wheel_pair)


def test_a_gauge_belongs_to_a_rider_or_to_a_vendor(rider, rider_person, fitter, tarn):
    mine = add_instrument(by=rider_person, code="g-1", name="own", kind="pressure", rider=rider)
    ours = add_instrument(by=fitter, code="g-2", name="trailer", kind="depth", organisation=tarn)

    assert (mine.rider, ours.organisation) == (rider, tarn)
    with pytest.raises(Invalid, match="not to both"):
        add_instrument(
            by=rider_person, code="g-3", name="both", kind="pressure", rider=rider, organisation=tarn
        )


def test_nobody_adds_a_gauge_for_somebody_else(rider, stranger, crew, tarn, longfield):
    with pytest.raises(NotFound):
        add_instrument(by=stranger, code="g-1", name="x", kind="pressure", rider=rider)
    with pytest.raises(NotFound):
        add_instrument(by=stranger, code="g-1", name="x", kind="pressure", organisation=tarn)
    with pytest.raises(NotAllowed):
        add_instrument(by=crew, code="g-1", name="x", kind="pressure", organisation=longfield)
    with pytest.raises(NotFound):
        add_instrument(by=stranger, code="g-1", name="x", kind="pressure")

    assert not Instrument.objects.exists()


def test_a_gauge_that_reads_far_off_is_refused(rider):
    with pytest.raises(Invalid) as refused:
        add_instrument(by=SERVICE, code="g-1", name="x", kind="pressure", rider=rider, offset_kpa=70.0)

    assert refused.value.field == "offset_kpa"


def test_what_is_shared_is_seen_until_it_is_taken_back(
    rider, rider_person, tester, longfield, wheel_pair, fitted, stint, now
):
    assert not stints_for(tester).exists()

    sharing = share(by=rider_person, rider=rider, organisation=longfield, scope="stints", at=now)
    assert list(stints_for(tester)) == [stint]

    take_back(by=rider_person, sharing=sharing, at=now + timedelta(hours=1))
    assert not stints_for(tester).exists()
    assert not sharings_of(rider).exists()


def test_taking_back_twice_keeps_the_first_moment(rider, rider_person, longfield, now):
    sharing = share(by=rider_person, rider=rider, organisation=longfield, scope="stints", at=now)
    take_back(by=rider_person, sharing=sharing, at=now)

    again = take_back(by=rider_person, sharing=sharing, at=now + timedelta(days=9))

    assert again.withdrawn_at == now


def test_sharing_can_start_again_after_it_was_taken_back_but_not_twice_at_once(
    rider, rider_person, longfield, now
):
    first = share(by=rider_person, rider=rider, organisation=longfield, scope="stints", at=now)
    with pytest.raises(Invalid):
        share(by=rider_person, rider=rider, organisation=longfield, scope="stints", at=now)
    take_back(by=rider_person, sharing=first, at=now)

    share(by=rider_person, rider=rider, organisation=longfield, scope="stints", at=now)

    assert sharings_of(rider).count() == 1


def test_nobody_shares_or_takes_back_what_is_another_riders(
    rider, rider_person, other_rider, tester, longfield, now
):
    sharing = share(by=rider_person, rider=rider, organisation=longfield, scope="stints", at=now)

    for nobody in (tester, other_rider.person):
        with pytest.raises(NotFound):
            share(by=nobody, rider=rider, organisation=longfield, scope="stints", at=now)
        with pytest.raises(NotFound):
            take_back(by=nobody, sharing=sharing, at=now)

    assert Sharing.objects.get().withdrawn_at is None
