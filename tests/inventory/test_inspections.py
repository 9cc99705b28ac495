"""What tech inspection finds: recorded once, by those who may, and a hold follows from it."""

import uuid
from datetime import timedelta

import pytest

from fleet.accounts.policy import SERVICE
from fleet.errors import InTheFuture, Invalid, KeyReused, NotAllowed, NotFound
from fleet.inventory.actions import enter_recall, inspect_tire, lift_hold, place_hold, void_inspection
from fleet.inventory.errors import Recalled, TireOnHold
from fleet.inventory.inspection import Inspection
from fleet.inventory.models import Hold
from fleet.life.queries import inspections_for, last_inspections
from fleet.photos.errors import NoPhoto
from fleet.photos.models import Photo
from tests.photos.pictures import jpeg


@pytest.fixture
def tire(fitted, entry):
    """Robin's front tire; Robin rides at Longfield."""
    return fitted["front"].tire


@pytest.fixture
def look(tire, inspector, longfield, now):
    def do(outcome="pass", **changes):
        given = {"by": inspector, "at": now, "tire": tire, "inspected_for": longfield, "inspected_at": now}
        return inspect_tire(**(given | {"outcome": outcome} | changes))

    return do


def test_a_pass_needs_no_word_and_holds_nothing(look, inspector, now):
    found = look()

    assert (found.outcome, found.words, found.hold, found.photo) == ("pass", "", None, None)
    assert (found.recorded_by, found.recorded_at) == (inspector, now)
    assert not Hold.objects.exists()


def test_a_hold_is_placed_with_the_words_and_the_photo(look, tire, longfield, now):
    found = look("hold", words=" a cut in the shoulder ", photo=jpeg())

    assert found.hold.note == found.words == "a cut in the shoulder"
    assert (found.hold.tire, found.hold.placed_for, found.hold.reason) == (tire, longfield, "inspection")
    assert found.hold.placed_at == now
    assert Photo.objects.get() == found.photo


@pytest.mark.parametrize("outcome", ["advise", "hold"])
def test_whoever_is_advised_or_held_is_told_why(look, outcome):
    with pytest.raises(Invalid, match="few words") as refused:
        look(outcome, words="  ")

    assert refused.value.field == "words"
    assert not Inspection.objects.exists()


def test_the_same_key_stores_one_inspection_one_hold_and_one_photo(look):
    key = uuid.uuid4()
    first, again = (look("hold", words="cut", photo=jpeg(), key=key) for _ in range(2))

    assert first == again
    assert [model.objects.count() for model in (Inspection, Hold, Photo)] == [1, 1, 1]
    with pytest.raises(KeyReused):
        look("pass", key=key)


def test_what_is_no_photo_stores_nothing_at_all(look):
    with pytest.raises(NoPhoto):
        look("hold", words="cut", photo=b"a letter")

    assert [model.objects.exists() for model in (Inspection, Hold, Photo)] == [False] * 3


def test_a_tire_that_is_held_is_held_once_and_does_not_pass(look, inspector, now):
    first = look("hold", words="cut")
    second = look("hold", words="cut, seen again", inspected_at=now)

    assert second.hold == first.hold
    with pytest.raises(TireOnHold, match="Longfield Track Days"):
        look("pass")
    lift_hold(by=inspector, at=now, hold=first.hold, reason="only rubber")
    assert look("pass").pk


def test_a_tire_held_by_others_does_not_pass_but_what_was_seen_before_it_counts(look, tire, tarn, now):
    place_hold(by=SERVICE, at=now, tire=tire, placed_for=tarn, reason="damage", placed_at=now)

    with pytest.raises(TireOnHold, match="Tarn Tire Service"):
        look("pass")
    assert look("pass", inspected_at=now - timedelta(minutes=20)).pk
    assert look("advise", words="seen").hold is None


def test_a_recalled_tire_does_not_pass(look, tire, now):
    enter_recall(
        by=SERVICE, at=now, reference="H-1", issued_by="Mirrin", published_on=now.date(),
        first_code="0126", last_code="2026", what_to_do="Do not ride.", spec=tire.spec,
    )  # fmt: skip

    with pytest.raises(Recalled, match="H-1"):
        look("pass")


def test_only_the_inspector_of_an_organiser_the_rider_rides_at_inspects(
    look, crew, director, fitter, other_rider, tarn, longfield, now, entry
):
    for by in (crew, director):
        with pytest.raises(NotAllowed):
            look(by=by)
    with pytest.raises(NotFound):
        look(by=fitter)
    with pytest.raises(NotAllowed):
        look(by=fitter, inspected_for=tarn)
    entry.delete()
    with pytest.raises(NotFound, match="entrants"):
        look()


def test_an_inspection_to_come_is_refused(look, now):
    with pytest.raises(InTheFuture):
        look(inspected_at=now + timedelta(hours=1))


def test_a_wrong_entry_is_taken_back_with_the_hold_it_placed(look, inspector, crew, now):
    found = look("hold", words="cut")

    with pytest.raises(NotAllowed):
        void_inspection(by=crew, at=now, inspection=found, reason="wrong bike")
    void_inspection(by=inspector, at=now, inspection=found, reason="wrong bike")

    hold = Hold.objects.get()
    assert (found.void_reason, hold.void_reason) == ("wrong bike", "wrong bike")
    assert not inspections_for(inspector, on=now.date()).exists()


def test_a_hold_that_was_there_before_outlives_a_wrong_entry(look, inspector, tire, longfield, now):
    before = place_hold(
        by=inspector, at=now, tire=tire, placed_for=longfield, reason="inspection", placed_at=now
    )
    found = look("hold", words="cut")

    void_inspection(by=inspector, at=now, inspection=found, reason="wrong bike")

    before.refresh_from_db()
    assert found.hold == before
    assert before.voided_at is None


def test_who_reads_it(look, rider_person, fitter, crew, inspector, tester, other_rider, now):
    found = look("advise", words="worn on the left")

    readers = {
        who: list(inspections_for(who, on=now.date()))
        for who in (rider_person, fitter, inspector, crew, tester, SERVICE)
    }

    assert [bool(rows) for rows in readers.values()] == [True, True, True, False, False, True]
    assert readers[rider_person] == [found]


def test_the_newest_of_each_tire_is_found_by_one_query(look, fitted, now, django_assert_num_queries):
    look(inspected_at=now - timedelta(hours=2))
    newest = look("advise", words="worn", inspected_at=now - timedelta(hours=1))
    rear = look(tire=fitted["rear"].tire)

    with django_assert_num_queries(1):
        found = last_inspections(Inspection.objects.standing(), [one.tire_id for one in fitted.values()])

    assert found == {newest.tire_id: newest, rear.tire_id: rear}
