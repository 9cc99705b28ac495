"""Feel notes, surface notes and adjustments."""

import uuid
from datetime import timedelta

import pytest

from fleet.errors import AlreadyVoided, InTheFuture, Invalid, KeyReused, NotFound
from fleet.inventory.models import Tire
from fleet.running.actions import adjust, note_feel, note_surface, void_note, void_reading, void_stint
from fleet.running.errors import StintVoided
from fleet.running.models import Adjustment, FeelNote, SurfaceNote


@pytest.fixture
def feel(stint, rider_person, now):
    def do(**changes):
        given = {"by": rider_person, "at": now, "stint": stint, "feel": "slides_rear", "phase": "exit"}
        return note_feel(**(given | changes))

    return do


@pytest.fixture
def look(fitted, rider_person, now):
    def do(**changes):
        given = {
            "by": rider_person,
            "at": now,
            "tire": fitted["rear"].tire,
            "look": "hot_tear",
            "seen_at": now,
        }
        return note_surface(**(given | changes))

    return do


@pytest.fixture
def change(wheel_pair, rider_person, now):
    def do(**changes):
        given = {
            "by": rider_person,
            "at": now,
            "wheel_pair": wheel_pair,
            "part": "rear_rebound",
            "before": 10.0,
            "after": 8.0,
            "unit": "clicks",
            "made_at": now,
        }
        return adjust(**(given | changes))

    return do


def test_a_feel_note_says_what_was_felt_where(feel):
    note = feel(words="only out of the hairpin")

    assert (note.feel, note.phase, note.words) == ("slides_rear", "exit", "only out of the hairpin")


def test_a_surface_note_marks_the_tire_for_a_new_assessment(look, fitted):
    before = Tire.objects.get(pk=fitted["rear"].tire_id).revision

    look(look="cord", zone="C")

    assert Tire.objects.get(pk=fitted["rear"].tire_id).revision > before


@pytest.mark.parametrize("changes", [{"feel": "meh"}, {"phase": "pit lane"}, {"words": "x" * 401}])
def test_a_feel_note_uses_the_listed_words(changes, feel):
    with pytest.raises(Invalid) as refused:
        feel(**changes)

    assert [refused.value.field] == list(changes)
    assert not FeelNote.objects.exists()


@pytest.mark.parametrize("changes", [{"look": "ugly"}, {"zone": "sidewall"}])
def test_a_surface_note_uses_the_listed_words(changes, look):
    with pytest.raises(Invalid) as refused:
        look(**changes)

    assert [refused.value.field] == list(changes)


def test_an_adjustment_is_of_a_listed_part_and_a_number(change):
    with pytest.raises(Invalid) as refused:
        change(part="steering damper of the other bike")
    assert refused.value.field == "part"
    with pytest.raises(Invalid) as refused:
        change(after=float("nan"))

    assert refused.value.field == "after"
    assert not Adjustment.objects.exists()


def test_nothing_is_seen_or_changed_tomorrow(look, change, now):
    with pytest.raises(InTheFuture):
        look(seen_at=now + timedelta(days=1))
    with pytest.raises(InTheFuture):
        change(made_at=now + timedelta(days=1))


def test_notes_sent_twice_are_stored_once_and_their_keys_serve_no_other(feel, look, change, now):
    for write, other in (
        (feel, {"words": "other words"}),
        (look, {"zone": "C"}),
        (change, {"unit": "turns"}),
    ):
        key = uuid.uuid4()
        assert write(key=key) == write(key=key)
        with pytest.raises(KeyReused):
            write(key=key, **other)

    assert (FeelNote.objects.count(), SurfaceNote.objects.count(), Adjustment.objects.count()) == (1, 1, 1)


def test_nothing_is_felt_in_a_voided_stint(feel, stint, rider_person, now):
    void_stint(by=rider_person, at=now, stint=stint, reason="did not go out")

    with pytest.raises(StintVoided):
        feel()


def test_notes_are_voided_once_by_the_rider(feel, look, rider_person, now):
    felt, seen = feel(), look()

    void_note(by=rider_person, at=now, note=felt, reason="the other stint")
    void_reading(by=rider_person, at=now, reading=seen, reason="the other tire")

    assert (felt.voided_at, seen.voided_at) == (now, now)
    with pytest.raises(AlreadyVoided):
        void_note(by=rider_person, at=now, note=felt, reason="again")


def test_only_the_rider_feels_and_adjusts(feel, change, fitter, stranger, other_rider, tester, now):
    note = feel()

    for nobody in (fitter, stranger, other_rider.person, tester):
        with pytest.raises(NotFound):
            feel(by=nobody)
        with pytest.raises(NotFound):
            change(by=nobody)
        with pytest.raises(NotFound):
            void_note(by=nobody, at=now, note=note, reason="mischief")


def test_the_trailer_may_note_a_surface_but_no_stranger(look, fitter, tarn, stranger, breckside):
    assert look(by=fitter, vendor=tarn).recorded_by == fitter

    for vendor in (breckside, tarn, None):
        with pytest.raises(NotFound):
            look(by=stranger, vendor=vendor)
