"""How a job fares is written down, one that fails is tried again less and less often, and its operator sees why."""

from datetime import timedelta

import pytest
from celery.exceptions import TimeLimitExceeded, WorkerLostError
from django.core.management import CommandError, call_command
from django.urls import reverse
from django.utils import timezone

from fleet.accounts.models import Person
from fleet.accounts.policy import SERVICE
from fleet.celery import app, timetable
from fleet.errors import NotAllowed
from fleet.life.tasks import assess_changed
from fleet.logs import REQUEST_ID, TASK_ID
from fleet.operating import states
from fleet.operating.actions import run_job
from fleet.operating.errors import NoSuchJob
from fleet.operating.health import LIMIT
from fleet.operating.models import JobState
from fleet.operating.watched import Watched
from tests.conftest import somebody

NAME = "fleet.life.tasks.assess_changed"


@pytest.fixture
def operator(db):
    person = somebody("Oda Brandt")
    Person.objects.filter(pk=person.pk).update(is_superuser=True)
    return Person.objects.get(pk=person.pk)


@pytest.fixture
def breaks():
    """A task that fails with somebody's words in its exception, and says what it knew of its request."""
    seen = []

    def work():
        seen.append((REQUEST_ID.get(), TASK_ID.get()))
        raise ValueError("Robin Vale, robin@example.org")

    task = app.task(work, name="tests.breaks", shared=False)
    task.seen = seen
    yield task
    app.tasks.pop("tests.breaks")


def test_every_task_of_the_timetable_is_watched():
    names = {entry["task"] for entry in timetable().values()}

    assert names
    assert all(isinstance(app.tasks[name], Watched) for name in names)


def test_a_run_by_a_worker_is_noted_and_a_call_is_not(db):
    assess_changed()
    assert not JobState.objects.exists()

    assess_changed.apply()

    job = JobState.objects.get()
    assert job.name == NAME
    assert job.started_at <= job.ended_at == job.succeeded_at
    assert job.duration_s >= 0
    assert (job.failures, job.next_try_at, job.kind) == (0, None, "")


def test_a_failure_is_told_by_kind_and_place_and_by_no_word_of_anybody(db, breaks):
    breaks.apply(task_id="task-0001")

    job = JobState.objects.get()
    assert (job.failures, job.kind, job.task_id) == (1, "ValueError", "task-0001")
    assert "in work" in job.place
    assert job.failing_since is not None
    assert "Robin" not in str(JobState.objects.values())


def test_after_a_failure_it_waits_longer_each_time_and_then_no_longer(db, breaks):
    breaks.apply()
    first = JobState.objects.get()
    breaks.apply()
    assert len(breaks.seen) == 1
    JobState.objects.update(next_try_at=timezone.now())
    breaks.apply()
    second = JobState.objects.get()

    assert len(breaks.seen) == 2
    assert (second.failures, second.failing_since) == (2, first.failing_since)
    pauses = [states.pause_after(count).total_seconds() for count in (1, 2, 3, 7, 50)]
    assert pauses == [15, 30, 60, 900, 900]
    assert second.next_try_at - second.ended_at == timedelta(seconds=30)


def test_a_run_that_ends_well_ends_what_was_wrong(db):
    states.fail(NAME, ValueError(), at=timezone.now() - timedelta(hours=1), duration_s=1.0)

    assess_changed.apply()

    job = JobState.objects.get()
    assert (job.failures, job.failing_since, job.next_try_at, job.kind, job.place) == (0, None, None, "", "")


def test_a_run_cut_off_by_force_is_told_in_words_with_the_time_since_its_own_start(db):
    at = timezone.now()
    states.begin(NAME, at=at - timedelta(seconds=901), task_id="task-0005")
    states.fail(NAME, TimeLimitExceeded(900), at=at, duration_s=None, task_id="task-0005")
    first = JobState.objects.get()
    states.fail(NAME, TimeLimitExceeded(900), at=at, duration_s=None, task_id="task-0006")
    other = JobState.objects.get()

    assert (first.duration_s, first.place, first.task_id) == (901, "", "task-0005")
    assert first.reason == "cut off after 901 s: it ran longer than a job may"
    assert (other.duration_s, other.task_id) == (None, "task-0006")
    assert other.reason == "cut off: it ran longer than a job may"


@pytest.mark.parametrize(
    ("said", "reason"),
    [
        ("Worker exited prematurely: signal 9 (SIGKILL) Job: 3.", "ended by signal 9 (SIGKILL): look"),
        ("Worker exited prematurely: exitcode 1 Job: 3.", "ended by exitcode 1: look"),
        ("robin@example.org", "its process was ended: look"),
    ],
)
def test_what_ended_a_process_is_told_and_nothing_else(db, said, reason):
    states.fail(NAME, WorkerLostError(said), at=timezone.now(), duration_s=None)

    job = JobState.objects.get()
    assert reason in job.reason
    assert "robin" not in str(JobState.objects.values())


def test_a_run_whose_whole_worker_is_gone_is_told_apart_from_one_under_way(as_, operator, capsys):
    at = timezone.now()
    states.begin(NAME, at=at - LIMIT - timedelta(seconds=5), task_id="task-0007")
    states.begin("fleet.life.tasks.learn_due", at=at, task_id="task-0008")

    page = as_(operator).get(reverse("jobs")).content.decode()
    call_command("jobs")

    for words in (page, capsys.readouterr().out):
        assert words.count("never ended: its worker was killed") == 1
        assert "task-0007" in words
        assert "task-0008" not in words


@pytest.mark.parametrize("told", ["request-0001", "<script>", ""])
def test_a_job_carries_the_request_that_woke_it(db, breaks, told):
    breaks.apply(headers={"request_id": told}, task_id="task-0002")

    assert breaks.seen == [("request-0001" if told == "request-0001" else "", "task-0002")]
    assert (REQUEST_ID.get(), TASK_ID.get()) == ("", "")


def test_an_operator_sees_what_fails_and_has_it_run_again(as_, operator, crew):
    states.begin(NAME, at=timezone.now(), task_id="task-0003")
    states.fail(NAME, ValueError("robin@example.org"), at=timezone.now(), duration_s=1.0)
    client, address = as_(operator), reverse("jobs")

    before = client.get(address).content.decode()
    answer = client.post(reverse("run-job"), {"name": NAME}, follow=True).content.decode()

    assert "failed 1 time in a row" in before
    assert "task-0003" in before
    assert "robin" not in before
    assert f"{NAME} is sent to the workers" in answer
    assert JobState.objects.get().next_try_at is None
    assert reverse("jobs") in client.get(reverse("account")).content.decode()
    assert as_(crew).get(address).status_code == 403
    assert as_(crew).post(reverse("run-job"), {"name": NAME}).status_code == 403
    assert reverse("jobs") not in as_(crew).get(reverse("account")).content.decode()


def test_only_jobs_of_the_timetable_are_run_and_only_by_operators(db, operator, crew):
    with pytest.raises(NoSuchJob):
        run_job(by=operator, at=timezone.now(), name="celery.backend_cleanup")
    with pytest.raises(NotAllowed):
        run_job(by=crew, at=timezone.now(), name=NAME)
    run_job(by=SERVICE, at=timezone.now(), name=NAME)


def test_whoever_runs_the_service_needs_a_second_factor_too(as_, operator, settings):
    settings.STAFF_SECOND_FACTOR = True

    assert as_(operator).get(reverse("jobs")).status_code == 302


def test_the_command_tells_the_same(db, capsys):
    states.begin(NAME, at=timezone.now(), task_id="task-0004")
    states.fail(NAME, ValueError("robin@example.org"), at=timezone.now(), duration_s=1.0)

    call_command("jobs")
    call_command("jobs", run=NAME)

    said = capsys.readouterr().out
    assert "never well yet" in said
    assert "failed 1 in a row" in said
    assert "robin" not in said
    assert f"{NAME} is sent" in said
    with pytest.raises(CommandError, match="There is no job"):
        call_command("jobs", run="nothing")
