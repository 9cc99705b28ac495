"""An import wakes each background job once at its end, not once a row."""

from fleet.celery import quiet, wake


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
    with django_capture_on_commit_callbacks() as sent:
        try:
            with quiet():
                wake("fleet.life.tasks.assess_changed")
                raise RuntimeError
        except RuntimeError:
            pass

    assert len(sent) == 1
