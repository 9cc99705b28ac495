"""A gauge compared with a better one is a fact: the newest that stands counts, a wrong one is voided, each is kept."""

import uuid
from datetime import timedelta

import pytest

from fleet.accounts.models import Change
from fleet.accounts.policy import SERVICE
from fleet.errors import InTheFuture, Invalid, KeyReused, NotFound
from fleet.garage.actions import add_instrument, compare_gauge, void_comparison
from fleet.garage.comparison import GaugeComparison
from fleet.garage.queries import comparisons_for, is_old_comparison
from fleet.inventory.queries import masters_for
from fleet.running.actions import record_pressure


@pytest.fixture
def gauge(rider, rider_person):
    return add_instrument(by=rider_person, code="g-1", name="Pocket gauge", kind="pressure", rider=rider)


@pytest.fixture
def master(tarn):
    """Tarn's master, which itself reads half a kilopascal low."""
    return add_instrument(
        by=SERVICE, code="m-1", name="Master", kind="pressure", organisation=tarn, offset_kpa=-0.5
    )


@pytest.fixture
def compare(gauge, rider_person, now):
    """Compare Robin's gauge at 33 psi against 32 an hour ago, in kPa, unless told otherwise."""

    def do(**changes):
        given = {
            "by": rider_person,
            "at": now,
            "instrument": gauge,
            "own_kpa": 227.5,
            "master_kpa": 220.6,
            "compared_at": now - timedelta(hours=1),
        }
        return compare_gauge(**(given | changes))

    return do


def state(gauge):
    gauge.refresh_from_db()
    return gauge.offset_kpa, gauge.compared_on


def test_the_gauge_reads_off_by_the_difference_from_then_on(compare, gauge, now):
    made = compare()

    assert made.offset_kpa == pytest.approx(6.9)
    assert state(gauge) == (pytest.approx(6.9), now.date())


def test_what_the_master_itself_reads_off_is_taken_off(compare, gauge, master):
    # By hand: the master shows 220.6 and reads 0.5 low, so the truth is 221.1, and 227.5 is 6.4 too high.
    made = compare(master=master)

    assert made.offset_kpa == pytest.approx(6.4)
    assert state(gauge)[0] == pytest.approx(6.4)


def test_the_newest_that_stands_counts_whatever_order_they_are_written_in(compare, gauge, now):
    compare(own_kpa=222.6)

    compare(own_kpa=230.6, compared_at=now - timedelta(days=400))

    assert state(gauge) == (pytest.approx(2.0), now.date())
    assert GaugeComparison.objects.count() == 2


def test_a_voided_one_gives_the_one_before_back_and_stays_readable(compare, gauge, rider_person, now):
    compare(own_kpa=222.6, compared_at=now - timedelta(days=30))
    wrong = compare()

    void_comparison(by=rider_person, at=now, comparison=wrong, reason="another tire")

    assert state(gauge) == (pytest.approx(2.0), (now - timedelta(days=30)).date())
    assert {row.pk: bool(row.voided_at) for row in comparisons_for(rider_person)}[wrong.pk] is True


def test_with_none_left_the_gauge_was_never_compared(compare, gauge, rider_person, now):
    void_comparison(by=rider_person, at=now, comparison=compare(), reason="another tire")

    assert state(gauge) == (0.0, None)
    assert is_old_comparison(gauge, on=now.date())


def test_readings_taken_before_keep_the_offset_they_were_taken_with(
    compare, gauge, fitted, rider_person, now
):
    reading = record_pressure(
        by=rider_person, at=now, tire=fitted["rear"].tire, moment="later", taken_at=now, pressure_kpa=200.0,
        instrument=gauge,
    )  # fmt: skip

    compare()

    reading.refresh_from_db()
    assert reading.pressure_kpa == 200.0


def test_sent_twice_it_is_stored_once_and_another_under_its_key_is_refused(compare):
    key = uuid.uuid4()

    assert compare(key=key) == compare(key=key)
    assert GaugeComparison.objects.count() == 1
    with pytest.raises(KeyReused):
        compare(key=key, own_kpa=221.0)


@pytest.mark.parametrize(
    ("changes", "refusal", "said"),
    [
        ({"own_kpa": 290.0}, Invalid, "one right after the other"),
        ({"own_kpa": 20.0, "master_kpa": 21.0}, Invalid, "50"),
        ({"ahead": 1}, InTheFuture, "has not come yet"),
        ({"against": "itself"}, Invalid, "choose the master"),
        ({"against": "depth"}, Invalid, "reads no pressure"),
    ],
)
def test_what_is_no_comparison_is_refused_and_the_gauge_stays(
    compare, gauge, rider, now, changes, refusal, said
):
    given = dict(changes)
    if given.pop("ahead", None):
        given["compared_at"] = now + timedelta(hours=1)
    against = given.pop("against", "")
    if against == "itself":
        given["master"] = gauge
    elif against == "depth":
        given["master"] = add_instrument(by=SERVICE, code="d", name="Depth", kind="depth", rider=rider)

    with pytest.raises(refusal, match=said):
        compare(**given)
    assert state(gauge) == (0.0, None)


def test_a_strangers_gauge_is_not_there_and_a_trailers_is_for_its_crew(
    compare, other_rider, rider_person, master, fitter, stock_manager, crew, now
):
    with pytest.raises(NotFound):
        compare(by=other_rider.person)
    made = compare()
    with pytest.raises(NotFound):
        void_comparison(by=other_rider.person, at=now, comparison=made, reason="mine")
    with pytest.raises(NotFound):
        compare(by=crew, instrument=master)
    assert compare(by=fitter, instrument=master, own_kpa=220.0, master_kpa=220.0).offset_kpa == 0.0
    assert not comparisons_for(other_rider.person).exists()
    assert [row.instrument for row in comparisons_for(fitter)] == [master]


def test_a_rider_compares_with_the_masters_of_vendors_they_are_a_customer_of(rider, other_rider, master):
    assert list(masters_for(rider)) == [master]
    assert list(masters_for(other_rider)) == []


def test_the_trail_tells_how_the_gauge_read_before(compare, gauge):
    compare()

    [line] = Change.objects.filter(row=gauge.pk, what="corrected")
    assert (line.before["offset_kpa"], line.after["offset_kpa"]) == (0.0, pytest.approx(6.9))
