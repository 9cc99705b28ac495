"""Notes that testers gather: who writes and reads them, where they count, and how one becomes everybody's."""

import uuid
from datetime import date, timedelta
from io import StringIO

import pytest
from django.core.management import CommandError, call_command

from fleet.accounts.models import Change
from fleet.accounts.policy import SERVICE
from fleet.catalogue.actions import correct_note, drop_note, gather_note, note_reference, share_note
from fleet.catalogue.models import ReferenceNote
from fleet.catalogue.queries import notes_counting_for, notes_for, shared_notes
from fleet.errors import Conflict, InTheFuture, Invalid, KeyReused, NotAllowed, NotFound

FOUND = {"basis": "hot", "pressure_kpa": 221.0, "noted_on": date(2026, 5, 2), "source": "a paddock notebook"}


@pytest.fixture
def gather(longfield, rear_spec, now):
    def do(by, **more):
        return gather_note(by=by, at=now, **{"organisation": longfield, "spec": rear_spec} | FOUND | more)

    return do


@pytest.mark.parametrize(
    ("wrong", "refusal", "sentence"),
    [
        ({"pressure_kpa": 32.0}, Invalid, "check the unit"),
        ({"noted_on": date(2031, 1, 1)}, InTheFuture, "has not come yet"),
        ({"source": "  "}, Invalid, "blank"),
        ({"basis": "warm"}, Invalid, "not a valid choice"),
    ],
)
def test_a_note_that_cannot_be_is_refused_and_nothing_is_kept(gather, tester, wrong, refusal, sentence):
    with pytest.raises(refusal, match=sentence):
        gather(tester, **wrong)

    assert not ReferenceNote.objects.exists()


def test_only_testers_gather_and_a_stranger_learns_nothing(gather, director, stranger):
    with pytest.raises(NotAllowed):
        gather(director)
    with pytest.raises(NotFound):
        gather(stranger)


def test_a_note_sent_twice_is_stored_once_and_its_key_serves_no_other(gather, tester):
    key = uuid.uuid4()

    assert gather(tester, key=key).pk == gather(tester, key=key).pk == key
    with pytest.raises(KeyReused):
        gather(tester, key=key, pressure_kpa=230.0)


def test_the_same_note_does_not_count_twice(gather, tester, rear_spec):
    note_reference(by=SERVICE, spec=rear_spec, **FOUND | {"source": "everybody's"})
    gather(tester)

    for source in ("a paddock notebook", "everybody's"):
        with pytest.raises(Conflict, match="counts once"):
            gather(tester, source=source)


def test_it_is_read_and_counts_in_its_own_organisation_alone(
    gather, tester, director, stranger, longfield, tarn
):
    note = gather(tester)

    assert list(notes_for(tester)) == [note]
    assert list(notes_counting_for(longfield)) == [note]
    assert not notes_counting_for(tarn).exists()
    assert not shared_notes().exists()
    for somebody in (director, stranger):
        assert not notes_for(somebody).exists()


def test_testers_correct_and_take_out_their_own_and_the_trail_says_so(
    gather, tester, stranger, longfield, now
):
    note = gather(tester)
    with pytest.raises(NotFound):
        correct_note(by=stranger, at=now, gathered=note, air_c=21.0)
    with pytest.raises(InTheFuture):
        correct_note(by=tester, at=now, gathered=note, noted_on=now.date() + timedelta(days=2))

    correct_note(by=tester, at=now, gathered=note, air_c=21.0)
    drop_note(by=tester, gathered=note)

    lines = Change.objects.filter(organisation=longfield, noun="reference_note").order_by("at")
    assert [line.what for line in lines] == ["made", "corrected", "deleted"]
    assert lines[1].after == {"air_c": 21.0}
    assert lines[2].before["source"] == "a paddock notebook"
    assert not ReferenceNote.objects.exists()


def test_a_shared_note_is_not_for_testers_to_change(tester, rear_spec, now):
    note = note_reference(by=SERVICE, spec=rear_spec, **FOUND)

    with pytest.raises(NotAllowed):
        correct_note(by=tester, at=now, gathered=note, air_c=21.0)
    with pytest.raises(NotAllowed):
        drop_note(by=tester, gathered=note)
    with pytest.raises(NotAllowed):
        share_note(by=tester, gathered=note)


def test_a_note_taken_over_counts_for_everybody(gather, tester, tarn):
    note = gather(tester)
    said = StringIO()

    call_command("gathered_notes", stdout=said)
    call_command("gathered_notes", "--share", str(note.pk), stdout=said)

    assert f"{note.pk}  Longfield Track Days" in said.getvalue()
    assert list(shared_notes()) == [note]
    assert notes_counting_for(tarn).exists()
    with pytest.raises(CommandError, match="already"):
        call_command("gathered_notes", "--share", str(note.pk))
    with pytest.raises(CommandError, match="is no id"):
        call_command("gathered_notes", "--share", "the first")


def test_what_stands_shared_already_is_not_taken_over_again(gather, tester, rear_spec):
    note = gather(tester)
    note_reference(by=SERVICE, spec=rear_spec, **FOUND)

    with pytest.raises(Conflict, match="counts twice"):
        share_note(by=SERVICE, gathered=note)
