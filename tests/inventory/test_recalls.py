"""Recalls: which tires a notice stops, who enters and lifts it, and that nothing fitted later slips through."""

import uuid
from datetime import date, timedelta

import pytest

from fleet.accounts.models import Change
from fleet.accounts.policy import SERVICE
from fleet.catalogue.actions import add_spec
from fleet.errors import AlreadyVoided, Invalid, KeyReused, NotAllowed, NotFound
from fleet.inventory.actions import add_own_tire, lift_recall, load_stock, move_stock, void_recall
from fleet.inventory.errors import Recalled, RecallLifted
from fleet.inventory.models import Fitting, RecallNotice, Tire
from fleet.inventory.queries import left_at
from fleet.inventory.recalls import lots_touched, recalls_of, recalls_of_lots, tires_touched


def touched(tire):
    return [recall.is_certain for recall in recalls_of([tire.pk]).get(tire.pk, [])]


def revision_of(tire):
    return Tire.objects.get(pk=tire.pk).revision


@pytest.fixture
def own(rider, front_spec, now):
    """Add a front of Robin's with a number."""
    return lambda number="": add_own_tire(
        by=SERVICE, at=now, rider=rider, spec=front_spec, identification=number
    )


@pytest.mark.parametrize(
    ("number", "expected"),
    [("0726", []), ("0826", [True]), ("0926", [True]), ("1026", [True]), ("1126", []), ("", [False])],
)
def test_weeks_are_counted_from_the_first_to_the_last_and_an_unknown_one_is_not_passed_over(
    recall, own, number, expected
):
    recall(first_code="0826", last_code="1026")

    assert touched(own(number)) == expected


@pytest.mark.parametrize(
    ("number", "expected"),
    [
        ("1M372B4YR0926", [True]),
        ("M372B4YR0926", [True]),
        ("1M472B4YR0926", []),
        ("0926", [False]),
        ("1M372B4YR1526", []),
    ],
)
def test_a_plant_is_known_in_both_spellings_and_lets_other_plants_go(recall, own, number, expected):
    recall(first_code="0826", last_code="1026", plant="1m3")

    assert touched(own(number)) == expected


def test_a_whole_line_is_stopped_or_one_axle_of_it(recall, line, fitted):
    front, rear = fitted["front"].tire, fitted["rear"].tire
    notice = recall(spec=None, line=line)
    assert set(tires_touched(notice)) == {front, rear}

    only_rear = recall(spec=None, line=line, axle="rear")

    assert set(tires_touched(only_rear)) == {rear}


def test_another_spec_is_not_touched(recall, line, fitted):
    other = add_spec(
        by=SERVICE,
        line=line,
        code="other-f",
        axle="front",
        size="110/70 R17 M/C 54H",
        new_depth_mm=5.0,
        wear_limit_mm=1.0,
    )

    assert not tires_touched(recall(spec=other)).exists()


def test_nothing_of_a_recalled_lot_is_fitted_and_the_refusal_names_the_notice(
    recall, fit, fitter, front_lot, now
):
    recall(reference="W-14", issued_by="Mirrin", what_to_do="Bring it to the trailer.")

    with pytest.raises(Recalled, match=r"Recall W-14 by Mirrin: Bring it to the trailer\."):
        fit(by=fitter, lot=front_lot, fitted_at=now)

    assert not Fitting.objects.exists()
    assert not Tire.objects.exists()
    assert left_at(front_lot, "trailer") == 4


def test_a_riders_own_recalled_tire_is_not_fitted_until_the_notice_is_lifted(
    recall, fit, fitter, tarn, own_tire, now
):
    notice = recall()
    given = {"by": fitter, "vendor": tarn, "tire": own_tire, "fitted_at": now}
    with pytest.raises(Recalled):
        fit(**given)

    lift_recall(by=SERVICE, at=now, notice=notice, reason="Mirrin took it back on 12 June.")

    assert fit(**given).pk


def test_a_number_of_another_plant_lets_a_tire_of_the_lot_be_fitted(recall, fit, fitter, front_lot, now):
    recall(plant="1M4")
    with pytest.raises(Recalled, match="read the number on the sidewall first"):
        fit(by=fitter, lot=front_lot, fitted_at=now)
    with pytest.raises(Recalled):
        fit(by=fitter, lot=front_lot, fitted_at=now, identification="1M472B4YR0826")

    assert fit(by=fitter, lot=front_lot, fitted_at=now, identification="1M372B4YR0826").pk


def test_what_was_fitted_before_the_notice_came_is_recorded_and_stands_down(
    recall, fit, fitter, front_lot, now
):
    recall()

    fitting = fit(by=fitter, lot=front_lot, fitted_at=now - timedelta(hours=2))

    assert touched(fitting.tire) == [True]


def test_nothing_of_a_recalled_lot_is_sold_but_it_is_written_off_and_told_when_loaded(
    recall, stock_manager, front_lot, rear_lot, now
):
    recall()
    given = {"by": stock_manager, "at": now, "place": "trailer", "quantity": -1, "moved_at": now}

    with pytest.raises(Recalled, match="Nothing of lot lot-f is sold"):
        move_stock(lot=front_lot, kind="sold", **given)

    assert move_stock(lot=rear_lot, kind="sold", **given).pk
    assert move_stock(lot=front_lot, kind="written_off", reason="sent back to Mirrin", **given).pk
    load_stock(by=stock_manager, at=now, lot=front_lot, quantity=-1, loaded_at=now)
    assert list(recalls_of_lots([front_lot.pk, rear_lot.pk])) == [front_lot.pk]


def test_a_vendors_notice_stops_its_stock_and_its_customers_tires_and_nobody_elses(
    recall, stock_manager, tarn, breckside, own_tire, other_rider, front_lot, front_spec, now
):
    theirs = add_own_tire(by=SERVICE, at=now, rider=other_rider, spec=front_spec, identification="0826")

    notice = recall(by=stock_manager, entered_for=tarn)

    assert set(tires_touched(notice)) == {own_tire}
    assert set(lots_touched(notice)) == {front_lot}
    assert touched(theirs) == []
    everybody = recall()
    assert set(tires_touched(everybody)) == {own_tire, theirs}


def test_an_organisers_notice_stops_the_tires_of_its_entrants_whenever_they_enter(
    recall, inspector, longfield, own_tire, front_lot, request
):
    notice = recall(by=inspector, entered_for=longfield)
    assert not tires_touched(notice).exists()

    request.getfixturevalue("entry")

    assert set(tires_touched(notice)) == {own_tire}
    assert not lots_touched(notice).exists()


def test_scrapped_tires_and_those_back_in_their_lot_are_not_looked_for(recall, fitted, take_off, now):
    notice = recall()
    assert tires_touched(notice).count() == 1

    take_off(fitted["front"], destination="scrapped")

    assert not tires_touched(notice).exists()


def test_a_notice_needs_the_right_in_the_organisation_it_binds(
    recall, fitter, crew, tester, director, inspector, stock_manager, rider_person, stranger, tarn, longfield
):
    for member, organisation in ((fitter, tarn), (crew, longfield), (tester, longfield)):
        with pytest.raises(NotAllowed):
            recall(by=member, entered_for=organisation)
    for nobody in (rider_person, stranger, director):
        with pytest.raises(NotFound):
            recall(by=nobody, entered_for=tarn)
    for somebody in (stock_manager, director, inspector):
        with pytest.raises(NotAllowed):
            recall(by=somebody)

    assert not RecallNotice.objects.exists()
    assert recall(by=director, entered_for=longfield).recorded_by == director


def test_only_who_entered_a_notice_lifts_or_voids_it(
    recall, stock_manager, fitter, inspector, stranger, tarn, now
):
    ours, everybodys = recall(by=stock_manager, entered_for=tarn), recall()

    for end in (lift_recall, void_recall):
        with pytest.raises(NotAllowed):
            end(by=fitter, at=now, notice=ours, reason="dealt with")
        for nobody in (inspector, stranger):
            with pytest.raises(NotFound):
                end(by=nobody, at=now, notice=ours, reason="dealt with")
        with pytest.raises(NotAllowed):
            end(by=stock_manager, at=now, notice=everybodys, reason="dealt with")


def test_a_notice_is_lifted_once_with_a_reason_and_leaves_a_line(recall, stock_manager, tarn, own_tire, now):
    notice = recall(by=stock_manager, entered_for=tarn)
    with pytest.raises(Invalid) as refused:
        lift_recall(by=stock_manager, at=now, notice=notice, reason=" ")
    assert refused.value.field == "reason"

    lifted = lift_recall(by=stock_manager, at=now, notice=notice, reason=" All were sent back. ")

    assert (lifted.lifted_at, lifted.lifted_by, lifted.lift_reason) == (
        now,
        stock_manager,
        "All were sent back.",
    )
    line = Change.objects.get(row=notice.pk)
    assert (line.what, line.by, line.organisation) == ("lifted", stock_manager, tarn)
    assert touched(own_tire) == []
    with pytest.raises(RecallLifted):
        lift_recall(by=stock_manager, at=now, notice=notice, reason="again")


def test_a_notice_entered_wrongly_is_voided_and_stops_nothing(recall, stock_manager, tarn, own_tire, now):
    notice = recall(by=stock_manager, entered_for=tarn)

    void_recall(by=stock_manager, at=now, notice=notice, reason="the weeks were mistyped")

    assert touched(own_tire) == []
    with pytest.raises(AlreadyVoided):
        void_recall(by=stock_manager, at=now, notice=notice, reason="again")
    with pytest.raises(RecallLifted):
        lift_recall(by=stock_manager, at=now, notice=notice, reason="over")


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"first_code": "5426"}, "first_code"),
        ({"last_code": "826"}, "last_code"),
        ({"last_code": "1M372B4YR0826"}, "last_code"),
        ({"first_code": "1026", "last_code": "0826"}, "last_code"),
        ({"last_code": "4926"}, "last_code"),
        ({"published_on": date(2026, 6, 20)}, "published_on"),
        ({"plant": "O7"}, "plant"),
        ({"plant": "1M372"}, "plant"),
        ({"axle": "front"}, "axle"),
        ({"spec": None}, "spec"),
        ({"what_to_do": ""}, "what_to_do"),
        ({"reference": ""}, "reference"),
    ],
)
def test_what_cannot_be_right_is_refused_at_its_field(recall, changes, field):
    with pytest.raises(Invalid) as refused:
        recall(**changes)

    assert refused.value.field == field
    assert not RecallNotice.objects.exists()


def test_a_spec_and_a_line_together_are_refused(recall, line):
    with pytest.raises(Invalid, match="exactly one of the two"):
        recall(line=line)


def test_a_notice_sent_twice_is_one_and_its_key_serves_no_other(recall):
    key = uuid.uuid4()

    assert recall(key=key) == recall(key=key)

    with pytest.raises(KeyReused):
        recall(key=key, last_code="1226")


def test_entering_and_lifting_raise_the_revision_of_what_is_touched_and_of_nothing_else(recall, fitted, now):
    front, rear = fitted["front"].tire, fitted["rear"].tire
    before = revision_of(front), revision_of(rear)

    notice = recall()
    lift_recall(by=SERVICE, at=now, notice=notice, reason="taken back")

    assert (revision_of(front), revision_of(rear)) == (before[0] + 2, before[1])


def test_however_many_tires_and_notices_it_is_asked_in_two_queries(
    recall, own, fitted, django_assert_num_queries
):
    tires = [own("0826").pk for _ in range(5)] + [fitted["rear"].tire_id]
    with django_assert_num_queries(1):
        assert recalls_of(tires) == {}
    for _ in range(4):
        recall()

    with django_assert_num_queries(2):
        found = recalls_of(tires)

    assert {len(recalls) for recalls in found.values()} == {4}
    assert len(found) == 5
