"""A line of the log tells its request and its task, as JSON where that is wanted, and nothing of anybody."""

import json
import logging
from io import StringIO

import pytest
from django.test import Client
from django.urls import reverse

from fleet.celery import app
from fleet.logs import REQUEST_ID, TASK_ID, JsonLines, PlainLines, WithIds


@pytest.fixture
def lines():
    """What the console would be written as JSON."""
    written = StringIO()
    handler = logging.StreamHandler(written)
    handler.setFormatter(JsonLines())
    handler.addFilter(WithIds())
    loggers = [logging.getLogger(name) for name in ("fleet", "django.request")]
    for one in loggers:
        one.addHandler(handler)
        one.setLevel(logging.INFO)
    yield lambda: [json.loads(line) for line in written.getvalue().splitlines()]
    for one in loggers:
        one.removeHandler(handler)
        one.setLevel(logging.NOTSET)


def test_a_request_is_one_line_with_its_route_and_no_address(db, lines):
    answer = Client().get("/invitations/take/a-secret-code/?who=robin@example.org")

    said = next(line for line in lines() if line["logger"] == "fleet.requests")
    assert said["request_id"] == answer["X-Request-ID"]
    assert (said["method"], said["status"]) == ("GET", answer.status_code)
    assert said["duration_ms"] >= 0
    assert "secret" not in json.dumps(lines())
    assert "robin" not in json.dumps(lines())


def test_what_the_framework_says_of_a_request_names_its_route(db, lines):
    Client().get("/calendar/a-secret-code.ics")

    said = next(line for line in lines() if line["logger"] == "django.request")
    assert said["message"] == "404: /calendar/<str:token>.ics"
    assert "secret" not in json.dumps(lines())


@pytest.mark.parametrize(
    ("sent", "is_taken"),
    [
        ("abcd-1234_EF", True),
        ("short", False),
        ("a" * 65, False),
        ("line\tbreak-12345", False),
        ("<b>12345678", False),
    ],
)
def test_an_id_from_outside_is_taken_only_where_it_is_well_formed(db, sent, is_taken):
    answer = Client().get(reverse("live"), headers={"X-Request-ID": sent})

    assert (answer["X-Request-ID"] == sent) is is_taken
    assert len(answer["X-Request-ID"]) >= 8
    assert REQUEST_ID.get() == ""


def test_two_requests_have_two_ids(db):
    assert len({Client().get(reverse("live"))["X-Request-ID"] for _ in range(3)}) == 3


def failing():
    raise ValueError("Robin Vale, robin@example.org")


def test_an_exception_is_told_by_kind_and_place(lines):
    TASK_ID.set("task-0009")
    try:
        failing()
    except ValueError:
        logging.getLogger("fleet.tasks").exception("task", extra={"task": "x", "outcome": "failed"})
    finally:
        TASK_ID.set("")

    [said] = lines()
    assert (said["exception"], said["task_id"], said["outcome"]) == ("ValueError", "task-0009", "failed")
    assert "test_logs.py" in said["trace"][-1]
    assert "Robin" not in json.dumps(said)


def test_what_the_queue_says_of_a_failed_task_does_not_repeat_its_words(db, lines):
    task = app.task(failing, name="tests.fails", shared=False)
    handler = next(one for one in logging.getLogger("fleet").handlers)
    logging.getLogger("celery.app.trace").addHandler(handler)

    task.apply()

    logging.getLogger("celery.app.trace").removeHandler(handler)
    app.tasks.pop("tests.fails")
    said = [line for line in lines() if "failed" in json.dumps(line)]
    assert {line["logger"] for line in said} == {"celery.app.trace", "fleet.tasks"}
    assert "Robin" not in json.dumps(lines())


def test_lines_for_people_keep_the_form_they_had():
    record = logging.LogRecord("fleet", logging.WARNING, __file__, 1, "%s is late", ("It",), None)

    assert PlainLines("{levelname} {message}", style="{").format(record) == "WARNING It is late"
