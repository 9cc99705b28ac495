"""A monitor is told how every part is and what there is to do; nobody else is told anything.

The form of the figures: "Exposition formats, text-based format", version 0.0.4, of the Prometheus documentation, as a grammar here.
"""

import re
from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from fleet.accounts.policy import SERVICE
from fleet.events.actions import record_conditions
from fleet.operating import states
from fleet.operating.health import health, late_jobs
from fleet.operating.metrics import REQUESTS
from fleet.operating.models import JobState

SWEEP = "fleet.life.tasks.assess_changed"
TOKEN = "a-token-of-the-monitor"
VALUE = r"[-+]?(?:\d+(?:\.\d+)?(?:[eE][-+]?\d+)?|NaN|[-+]?Inf)"
LABEL = r'[a-zA-Z_]\w*="(?:[^"\\\n]|\\["\\n])*"'
SAMPLE = re.compile(rf"([a-zA-Z_:][\w:]*)(?:\{{{LABEL}(?:,{LABEL})*\}})? {VALUE}")


@pytest.fixture
def swept(db):
    """A job that ended well ten seconds ago."""
    at = timezone.now() - timedelta(seconds=10)
    states.begin(SWEEP, at=at)
    states.succeed(SWEEP, at=at, duration_s=0.25)


def told(**headers):
    return Client().get(reverse("health"), headers=headers)


def test_a_well_service_says_so_part_by_part(swept):
    answer = told()

    said = answer.json()
    assert (answer.status_code, said["is_well"]) == (200, True)
    assert [part["name"] for part in said["parts"]] == ["database", "worker", "jobs", "queue"]
    assert 9 < said["newest_job_age_s"] < 60
    assert (said["drafts_waiting"], said["mails_waiting"]) == (0, 0)


def test_a_draft_that_waits_is_counted(swept, day, conditions):
    assert told().json()["drafts_waiting"] == 1


@pytest.fixture
def conditions(day):
    at = timezone.now()
    type(day).objects.filter(pk=day.pk).update(date=at.date())
    day.refresh_from_db()
    return record_conditions(
        by=SERVICE, at=at, day=day, holds_at=at, standing="observed", source="a thermometer", air_c=22.0,
        track_surface_c=35.0, altimeter_kpa=101.6,
    )  # fmt: skip


def test_a_service_whose_jobs_do_not_come_round_is_not_well(swept):
    JobState.objects.update(
        ended_at=timezone.now() - timedelta(minutes=5), started_at=timezone.now() - timedelta(hours=1)
    )

    answer = told()

    assert answer.status_code == 503
    assert [part for part in answer.json()["parts"] if not part["is_well"]] == [
        {"name": "worker", "is_well": False, "seen": f"not seen in time: {SWEEP}"}
    ]


@pytest.mark.parametrize(("seconds", "is_late"), [(115, False), (125, True)])
def test_a_job_may_miss_some_of_its_rounds(swept, seconds, is_late):
    at = timezone.now()
    JobState.objects.update(ended_at=at - timedelta(seconds=seconds), started_at=at - timedelta(hours=1))

    assert list(late_jobs(list(JobState.objects.all()), at=at)) == ([SWEEP] if is_late else [])


def test_a_long_run_is_not_late_before_its_limit(swept):
    at = timezone.now()
    JobState.objects.update(ended_at=at - timedelta(hours=1), started_at=at - timedelta(minutes=10))

    assert health(at=at).is_well


def test_a_job_that_fails_makes_the_service_unwell(swept):
    states.fail(SWEEP, ValueError("robin@example.org"), at=timezone.now(), duration_s=1.0)

    answer = told()

    assert answer.status_code == 503
    assert f"failing: {SWEEP} (1 in a row)" in answer.content.decode()
    assert "robin" not in answer.content.decode()


def test_a_broker_that_is_away_is_told_within_seconds(swept, settings):
    settings.REDIS_URL = settings.CELERY_BROKER_URL = "redis://127.0.0.1:1/0"

    answer = told()

    assert answer.status_code == 503
    assert "the broker does not answer" in answer.content.decode()


def test_with_a_token_only_the_monitor_is_let_in(swept, settings):
    settings.METRICS_TOKEN = TOKEN

    for name in ("health", "metrics"):
        ask = Client().get
        assert ask(reverse(name), headers={"Authorization": f"Bearer {TOKEN}"}).status_code == 200
        assert ask(reverse(name)).status_code == 404
        assert ask(reverse(name), headers={"Authorization": "Bearer other"}).status_code == 404
        assert (
            ask(
                reverse(name), headers={"Authorization": "Bearer töken".encode("latin-1").decode("latin-1")}
            ).status_code
            == 404
        )


def test_without_a_token_only_this_machine_is_let_in_and_through_no_proxy(swept, settings):
    ask, address = Client().get, reverse("metrics")

    assert ask(address).status_code == 200
    assert ask(address, REMOTE_ADDR="192.0.2.7").status_code == 404
    assert ask(address, REMOTE_ADDR="").status_code == 404
    assert ask(address, headers={"X-Forwarded-For": "127.0.0.1"}).status_code == 404
    settings.SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")
    assert ask(address).status_code == 404


def test_the_figures_have_the_form_monitors_read(swept):
    Client().get(reverse("live"))

    answer = Client().get(reverse("metrics"))

    assert answer["Content-Type"] == "text/plain; version=0.0.4; charset=utf-8"
    text = answer.content.decode()
    assert text.endswith("\n")
    kinds = dict(re.findall(r"^# TYPE (\S+) (gauge|counter)$", text, re.MULTILINE))
    samples = [line for line in text.splitlines() if not line.startswith("#")]
    names = [SAMPLE.fullmatch(line)[1] for line in samples]
    assert set(names) == set(kinds)
    assert names == sorted(names, key=list(kinds).index)
    assert all(name.endswith("_total") for name, kind in kinds.items() if kind == "counter")
    assert f'fleet_job_failures_in_a_row{{job="{SWEEP}"}} 0' in samples
    assert f'fleet_job_duration_seconds{{job="{SWEEP}"}} 0.25' in samples
    assert 'fleet_part_up{part="database"} 1' in samples


def test_requests_are_counted_by_method_and_kind_of_answer():
    before = REQUESTS.told()[0]
    Client().get(reverse("live"))
    Client().generic("BREW", reverse("live"))

    after = REQUESTS.told()[0]

    assert (
        after[("method", "GET"), ("status", "2xx")]
        == before.get((("method", "GET"), ("status", "2xx")), 0) + 1
    )
    assert after[("method", "other"), ("status", "4xx")] >= 1


def test_the_questions_are_few(swept, django_assert_max_num_queries):
    with django_assert_max_num_queries(8):
        health(at=timezone.now())
