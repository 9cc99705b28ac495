"""What a recall does to life: the tire stands down, its owner is told, and whoever looks sees what is touched."""

from datetime import timedelta

import pytest

from fleet.accounts.policy import SERVICE
from fleet.garage.actions import register_rider
from fleet.garage.models import Rider
from fleet.inventory.actions import add_own_tire, lift_recall, record_contact
from fleet.inventory.telling import tell_recalled
from fleet.life.affected import affected_by, recalls_for
from fleet.life.assessments import assess, assess_changed, stale_tires
from fleet.life.models import Assessment, Flag
from fleet.life.queries import sets_of
from fleet.notices.actions import mark_read


def state_of(tire):
    row = Assessment.objects.get(tire=tire, is_newest=True)
    return row.state, row.binding_limit


def test_a_recalled_tire_stands_down_with_the_next_sweep_and_runs_again_once_lifted(recall, fitted, now):
    front, rear = fitted["front"].tire, fitted["rear"].tire
    assess(None, at=now)
    before = {tire: state_of(tire) for tire in (front, rear)}

    notice = recall()
    assert stale_tires() == [front.pk]
    assess_changed(at=now)

    assert state_of(front) == ("stand down", "hold")
    assert state_of(rear) == before[rear]
    assert Flag.objects.get(tire=front, cleared_at__isnull=True).state == "stand down"
    lift_recall(by=SERVICE, at=now, notice=notice, reason="taken back")
    assess_changed(at=now)
    assert state_of(front) == before[front]
    assert not Flag.objects.filter(tire=front, cleared_at__isnull=True, state="stand down").exists()


def test_whoever_sees_a_set_sees_the_recall_at_once(recall, fitted, rider):
    recall()

    view = sets_of([rider])[0].tires

    assert [str(one) for one in view["front"].recalls] == [
        "Recall W-14 by Mirrin: Bring it to your vendor: it is exchanged."
    ]
    assert (view["front"].is_stopped, view["rear"].is_on_hold) == (True, False)


def test_a_vendor_finds_its_stock_the_wheels_and_who_rides_today(
    recall, stock_manager, fitted, front_lot, entry, now
):
    notice = recall()

    found = affected_by(stock_manager, notice, at=now)

    assert ([lot.code for lot in found.lots], found.stock) == (["lot-f"], 3)
    assert [one.tire for one in found.on_wheels] == [fitted["front"].tire]
    assert [one.entry for one in found.on_track_today] == [entry]
    assert [one.rider.code for one in found.riders] == ["r-001"]
    assert found.riders[0].is_contact_known


def test_an_organiser_finds_its_entrants_and_no_stock(recall, inspector, fitted, entry, other_tire, now):
    found = affected_by(inspector, recall(), at=now)

    assert (found.lots, [one.tire for one in found.tires]) == ([], [fitted["front"].tire])
    assert not found.riders[0].is_contact_known


@pytest.fixture
def other_tire(other_rider, front_spec, now):
    """A tire of the recalled weeks of somebody who knows neither Tarn nor Longfield."""
    return add_own_tire(by=SERVICE, at=now, rider=other_rider, spec=front_spec, identification="0826")


def test_nobody_finds_tires_or_riders_they_may_not_see(
    recall, fitted, other_tire, stranger, rider_person, other_rider, now
):
    notice = recall()

    assert affected_by(stranger, notice, at=now).tires == []
    assert affected_by(stranger, notice, at=now).riders == []
    mine = affected_by(rider_person, notice, at=now)
    assert [one.tire for one in mine.tires] == [fitted["front"].tire]
    assert mine.lots == []
    theirs = affected_by(other_rider.person, notice, at=now)
    assert [one.tire for one in theirs.tires] == [other_tire]


def test_the_list_of_riders_says_who_was_told_how_and_when_the_unreached_first(
    recall, stock_manager, fitter, tarn, rider_person, fitted, front_spec, now
):
    walk_in = register_rider(by=SERVICE, code="r-009", name="Wren Fallow", registered_with=tarn)
    add_own_tire(by=SERVICE, at=now, rider=walk_in, spec=front_spec, identification="0826")
    notice = recall()
    tell_recalled(at=now)
    told = {one.rider.code: one for one in affected_by(stock_manager, notice, at=now).riders}
    assert (told["r-001"].told_at, told["r-001"].is_reached) == (now, False)
    assert (told["r-009"].told_at, told["r-009"].is_reached) == (None, False)

    mark_read(by=rider_person, at=now + timedelta(minutes=5))
    rows = affected_by(stock_manager, notice, at=now).riders
    assert [(one.rider.code, one.is_reached) for one in rows] == [("r-009", False), ("r-001", True)]
    assert rows[1].read_at == now + timedelta(minutes=5)

    record_contact(
        by=fitter,
        at=now,
        notice=notice,
        rider=Rider.objects.get(code="r-009"),
        told_for=tarn,
        way="phone",
        told_at=now,
    )
    rows = affected_by(stock_manager, notice, at=now).riders
    assert [(one.rider.code, one.is_reached) for one in rows] == [("r-001", True), ("r-009", True)]
    assert [one.recorded_by for one in rows[1].contacts] == [fitter]


def test_what_is_found_costs_as_many_questions_for_more_riders(
    recall, stock_manager, tarn, fitted, front_spec, entry, now, django_assert_num_queries
):
    notice = recall()
    with django_assert_num_queries(8) as counted:
        affected_by(stock_manager, notice, at=now)
    for number in range(5):
        walk_in = register_rider(by=SERVICE, code=f"x-{number}", name=f"Rider {number}", registered_with=tarn)
        add_own_tire(by=SERVICE, at=now, rider=walk_in, spec=front_spec, identification="0826")

    with django_assert_num_queries(len(counted)):
        found = affected_by(stock_manager, notice, at=now)

    assert len(found.riders) == 6


def test_who_reads_which_notices(
    recall, stock_manager, fitter, crew, tester, stranger, rider_person, other_rider, fitted, tarn
):
    everybodys, tarns = recall(), recall(by=stock_manager, entered_for=tarn)

    for member in (stock_manager, fitter, rider_person):
        assert set(recalls_for(member)) == {everybodys, tarns}
    for somebody in (crew, tester, stranger, other_rider.person):
        assert set(recalls_for(somebody)) == {everybodys}
