"""An import wakes each background job once at its end, not once a row."""

import pytest

from fleet.celery import quiet, wake
from fleet.events.models import Day
from fleet.inventory.models import Tire


def test_an_import_sends_each_job_once(bring_in, rows, django_capture_on_commit_callbacks):
    with django_capture_on_commit_callbacks() as sent:
        bring_in(rows)

    assert [callback.args for callback in sent] == [
        ("fleet.life.tasks.assess_changed",),
        ("fleet.pressures.tasks.draft_changed",),
    ]


def test_outside_a_quiet_block_every_call_wakes(db, django_capture_on_commit_callbacks):
    with django_capture_on_commit_callbacks() as sent:
        with quiet():
            wake("fleet.life.tasks.assess_changed")
            wake("fleet.life.tasks.assess_changed")
        wake("fleet.life.tasks.assess_changed")

    assert len(sent) == 2


def test_a_quiet_block_that_breaks_still_wakes_for_what_was_stored(db, django_capture_on_commit_callbacks):
    def wake_and_break():
        with quiet():
            wake("fleet.life.tasks.assess_changed")
            raise ConnectionError

    with django_capture_on_commit_callbacks() as sent, pytest.raises(ConnectionError):
        wake_and_break()

    assert len(sent) == 1


def test_an_import_leaves_every_tire_and_day_it_wrote_about_to_be_looked_at(bring_in, rows):
    bring_in(rows)
    before = dict(Tire.objects.values_list("label_code", "revision"))
    day = Day.objects.get()
    rows["pressures"].append({**rows["pressures"][0], "key": "6a2f0c1e-6d0b-4a5e-9a51-0c9a4f2d7e11"})

    bring_in(rows)

    after = dict(Tire.objects.values_list("label_code", "revision"))
    assert after["LABELF"] > before["LABELF"]
    assert after["LABELR"] == before["LABELR"]
    assert Day.objects.get().revision > day.revision
