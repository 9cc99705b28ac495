"""A job whose process is ended, by the worker at the time limit or by the system, is a failure with its reason for all to see."""

import os
import signal
from io import StringIO

import pytest
from django.core.management import call_command
from django.urls import reverse

from fleet.accounts.models import Person
from fleet.celery import app
from fleet.operating import states
from fleet.operating.models import JobState
from tests.conftest import somebody
from tests.journeys.jobs import HeldTable, database_of_tests, own_jobs, wait_until

pytestmark = [pytest.mark.postgres, pytest.mark.redis, pytest.mark.django_db(transaction=True)]

JOB = "fleet.inventory.tasks.expire_reservations"


@pytest.fixture
def worker(tmp_path):
    with own_jobs(tmp_path, database_of_tests()) as found:
        found.start_workers(1)
        yield found


@pytest.fixture
def held(worker):
    """What the job reads first, so that it waits in the middle."""
    table = HeldTable(worker.database_url, "inventory_reservation", to_readers=True)
    yield table
    table.let_go()


def failed():
    return JobState.objects.filter(name=JOB, failures__gt=0).first()


def read_by_staff(as_):
    person = somebody("Oda Brandt")
    Person.objects.filter(pk=person.pk).update(is_superuser=True)
    said = StringIO()
    call_command("jobs", stdout=said)
    client = as_(Person.objects.get(pk=person.pk))
    return client, client.get(reverse("jobs")).content.decode(), said.getvalue()


@pytest.mark.parametrize("ending", ["time limit", "kernel"])
def test_it_is_seen_with_its_reason_waits_and_is_run_again(worker, held, as_, ending):
    limits = {"soft_time_limit": 1, "time_limit": 2} if ending == "time limit" else {}
    app.send_task(JOB, retry=False, task_id="task-of-this-test", **limits)
    held.wait_for_somebody()
    [process] = worker.doing()
    # A process that is stopped is as deaf to the first, gentle limit as one that is deep in a library's loop.
    os.kill(process, signal.SIGSTOP if limits else signal.SIGKILL)

    job = wait_until(failed, "the failure is noted")

    assert (job.failures, job.task_id) == (1, "task-of-this-test")
    assert job.next_try_at - job.ended_at == states.FIRST_PAUSE
    assert job.duration_s == (job.ended_at - job.started_at).total_seconds()
    reason = "ut off after 2 s" if limits else "was ended by signal 9 (SIGKILL): look whether memory is short"
    client, page, said = read_by_staff(as_)
    for words in (page, said):
        assert reason in words
        assert "task-of-this-test" in words

    held.let_go()
    client.post(reverse("run-job"), {"name": JOB})

    wait_until(lambda: JobState.objects.get(name=JOB).succeeded_at, "the job is run again")
    assert failed() is None
    assert worker.doing() != [process]
