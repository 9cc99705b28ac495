"""Looking at a sidewall: the number read decides which recalls touch a tire, whatever was written down before."""

import uuid
from datetime import date, timedelta

import pytest

from fleet.accounts.models import Change
from fleet.accounts.policy import SERVICE
from fleet.errors import InTheFuture, Invalid, KeyReused, NotAllowed, NotFound
from fleet.inventory.actions import add_own_tire, lift_recall, read_sidewall
from fleet.inventory.errors import FittedBeforeMade, Recalled
from fleet.inventory.models import SidewallReading, Tire
from fleet.inventory.recalls import recalls_of, tires_touched


@pytest.fixture
def unknown(rider, front_spec, now):
    """A front of Robin's whose number nobody wrote down."""
    return add_own_tire(by=SERVICE, at=now, rider=rider, spec=front_spec)


@pytest.fixture
def read(unknown, tarn, now):
    def do(identification, **changes):
        given = {"by": SERVICE, "at": now, "tire": unknown, "read_for": tarn, "read_at": now}
        return read_sidewall(identification=identification, **(given | changes))

    return do


def touched(tire):
    return [recall.is_certain for recall in recalls_of([tire.pk]).get(tire.pk, [])]


def test_an_unknown_tire_is_let_go_once_its_number_says_another_week(recall, read, unknown, fitter, fit, now):
    recall()
    assert touched(unknown) == [False]

    read(" 1m3 72b4yr 1226", by=fitter)

    assert touched(unknown) == []
    assert fit(by=fitter, vendor=SidewallReading.objects.get().read_for, tire=unknown, fitted_at=now).pk


def test_an_unknown_tire_is_stopped_for_certain_once_its_number_says_so(
    recall, read, unknown, fitter, fit, tarn, now
):
    recall(plant="1M3")

    read("1M372B4YR0826", by=fitter)

    assert touched(unknown) == [True]
    with pytest.raises(Recalled):
        fit(by=fitter, vendor=tarn, tire=unknown, fitted_at=now)


def test_a_tire_whose_age_nobody_knew_has_one_now_and_the_line_says_who_gave_it(read, unknown, fitter, tarn):
    read("1M372B4YR0826", by=fitter)

    known = Tire.objects.get(pk=unknown.pk)
    assert (known.identification, known.made_on, known.plant) == ("1M372B4YR0826", date(2026, 2, 22), "1M3")
    line = Change.objects.get(row=unknown.pk, what="corrected")
    assert (line.by, line.organisation, line.before["made_on"]) == (fitter, tarn, None)


def test_what_stands_on_a_tire_counts_instead_of_what_its_lot_says(recall, read, fitted, front_lot):
    front = fitted["front"].tire
    notice = recall()

    read("1226", tire=front)

    assert front not in tires_touched(notice)
    assert Tire.objects.get(pk=front.pk).made_on == front_lot.made_on


def test_a_date_alone_keeps_the_plant_known_before_and_loses_it_for_another_week(
    recall, read, rider, front_spec, now
):
    tire = add_own_tire(by=SERVICE, at=now, rider=rider, spec=front_spec, identification="1M472B4YR0826")
    recall(plant="1M3")

    read("0826", tire=tire)
    assert touched(tire) == []

    read("0926", tire=tire)
    assert touched(tire) == [False]


def test_a_second_reading_takes_the_place_of_the_first_which_is_kept(recall, read, unknown, fitter):
    recall()
    first = read("1226", by=fitter)

    second = read("0826", by=fitter)

    first.refresh_from_db()
    assert (first.voided_by, first.void_reason) == (fitter, "The sidewall was read again.")
    assert second.replaces == first
    assert touched(unknown) == [True]
    assert Tire.objects.get(pk=unknown.pk).identification == "0826"


def test_a_number_the_rider_gave_is_kept_beside_what_was_read(read, own_tire):
    read("1226", tire=own_tire)

    assert Tire.objects.get(pk=own_tire.pk).identification == "0826"


@pytest.mark.parametrize("text", ["0826X", "5426", "2026X", "265", "4926"])
def test_a_number_that_cannot_be_right_is_refused_at_its_field(read, text):
    with pytest.raises(Invalid) as refused:
        read(text)

    assert refused.value.field == "identification"
    assert not SidewallReading.objects.exists()


def test_a_tire_cannot_be_younger_than_its_first_fitting(read, fit, unknown, now):
    fit(tire=unknown, fitted_at=now - timedelta(days=60))

    with pytest.raises(FittedBeforeMade):
        read("2026")


def test_a_reading_tomorrow_is_refused_and_one_sent_twice_is_one(read, now):
    key = uuid.uuid4()
    with pytest.raises(InTheFuture):
        read("0826", read_at=now + timedelta(days=1))

    assert read("0826", key=key) == read("0826", key=key)

    with pytest.raises(KeyReused):
        read("0926", key=key)
    assert SidewallReading.objects.count() == 1


def test_who_may_hold_a_tire_reads_it_and_nobody_else(
    read, fitter, inspector, entry, crew, director, rider_person, stranger, tarn, longfield, breckside
):
    for member in (crew, director):
        with pytest.raises(NotAllowed):
            read("0826", by=member, read_for=longfield)
    for nobody, organisation in ((rider_person, tarn), (stranger, tarn), (stranger, breckside)):
        with pytest.raises(NotFound):
            read("0826", by=nobody, read_for=organisation)

    assert read("0826", by=inspector, read_for=longfield).recorded_by == inspector
    assert read("0926", by=fitter).recorded_by == fitter


def test_an_inspector_reads_no_tire_of_somebody_who_did_not_enter(read, inspector, longfield):
    with pytest.raises(NotFound):
        read("0826", by=inspector, read_for=longfield)


def test_a_tire_of_the_recalled_weeks_is_let_go_by_lifting_the_notice_only(recall, read, unknown, now):
    notice = recall()
    read("0826")
    assert touched(unknown) == [True]

    lift_recall(by=SERVICE, at=now, notice=notice, reason="taken back by Mirrin")

    assert touched(unknown) == []
