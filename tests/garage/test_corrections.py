"""Who may mend what of a rider's things."""

import pytest

from fleet.accounts.models import Change
from fleet.accounts.policy import SERVICE
from fleet.errors import Invalid, NotAllowed, NotFound
from fleet.garage.actions import (
    add_bike,
    add_instrument,
    correct_bike,
    correct_instrument,
    correct_rider,
    correct_wheel_pair,
    register_rider,
)


@pytest.fixture
def walk_in(tarn):
    return register_rider(by=SERVICE, code="r-9", name="Wil Marsh", registered_with=tarn)


def test_the_crew_mends_a_walk_ins_record_for_its_vendor(fitter, walk_in, tarn):
    correct_rider(by=fitter, rider=walk_in, name="Will Marsh")

    line = Change.objects.get(row=walk_in.pk, what="corrected")
    assert (line.before, line.after) == ({"name": "Wil Marsh"}, {"name": "Will Marsh"})
    assert (line.by, line.on_behalf_of, line.rider) == (fitter, tarn, walk_in.pk)


def test_once_there_is_an_account_the_rider_alone_mends_it(fitter, rider, bike):
    with pytest.raises(NotAllowed, match="has an account"):
        correct_rider(by=fitter, rider=rider, name="Robin Dale")
    with pytest.raises(NotAllowed, match="has an account"):
        correct_bike(by=fitter, bike=bike, description="600 sport")


def test_nobody_else_mends_a_riders_things(stranger, other_rider, rider, bike, wheel_pair):
    gauge = add_instrument(by=SERVICE, code="dial", name="Dial", kind="pressure", rider=rider)

    for by in (stranger, other_rider.person):
        with pytest.raises(NotFound):
            correct_rider(by=by, rider=rider, name="Mine")
        with pytest.raises(NotFound):
            correct_bike(by=by, bike=bike, description="mine")
        with pytest.raises(NotFound):
            correct_wheel_pair(by=by, wheel_pair=wheel_pair, name="mine")
        with pytest.raises(NotFound):
            correct_instrument(by=by, instrument=gauge, name="mine")


def test_a_refused_correction_leaves_no_line(rider_person, bike):
    with pytest.raises(Invalid):
        correct_bike(by=rider_person, bike=bike, rake_deg=99.0)

    bike.refresh_from_db()
    assert bike.rake_deg is None
    assert not Change.objects.filter(what="corrected").exists()


def test_what_stood_before_is_read_from_the_database_and_not_from_the_caller(rider_person, rider):
    bike = add_bike(by=rider_person, rider=rider, code="b-7", description="600 sport")
    old = type(bike).objects.get(pk=bike.pk)
    correct_bike(by=rider_person, bike=bike, description="750 sport")

    correct_bike(by=rider_person, bike=old, description="1000 sport")

    told = [line.before["description"] for line in Change.objects.filter(what="corrected").order_by("at")]
    assert told == ["600 sport", "750 sport"]
