"""The timetable sends what it promises, each message to the timetable's queue and for a limited time."""

import json
import time
from datetime import datetime, timedelta

import pytest
from celery import Celery
from celery.beat import Scheduler

from fleet import clock
from fleet.celery import app

SCHEDULE = app.conf.beat_schedule


@pytest.fixture
def timetable(queue_folder):
    """The real schedule, with a clock of its own app that sends into a folder of this test."""
    sender = Celery("timetable", set_as_current=False)
    sender.conf.update(
        broker_url="fleet-files://localhost",
        broker_transport_options={
            "data_folder_in": str(queue_folder / "messages"),
            "data_folder_out": str(queue_folder / "messages"),
            "control_folder": str(queue_folder / "control"),
        },
        beat_schedule=SCHEDULE,
        timezone="UTC",
    )
    scheduler = Scheduler(app=sender)
    yield scheduler
    scheduler.close()
    sender.close()


def sent(queue_folder) -> list[dict]:
    paths = sorted((queue_folder / "messages").glob("*.timetable.msg"))
    return [json.loads(path.read_bytes())["headers"] for path in paths]


@pytest.mark.parametrize("name", sorted({entry["task"] for entry in SCHEDULE.values()}))
def test_every_scheduled_name_is_a_task(name):
    app.loader.import_default_modules()

    assert name in app.tasks


def test_sweeps_are_sent_after_fifteen_seconds_and_expire_with_the_next(timetable, queue_folder):
    for entry in timetable.schedule.values():
        entry.last_run_at -= timedelta(seconds=16)

    while timetable.tick() == 0:
        pass

    headers = sent(queue_folder)
    tasks = {header["task"] for header in headers}
    assert {"fleet.life.tasks.assess_changed", "fleet.pressures.tasks.draft_changed"} <= tasks
    for header in headers:
        if header["task"] in {"fleet.life.tasks.assess_changed", "fleet.pressures.tasks.draft_changed"}:
            left_s = datetime.fromisoformat(header["expires"]).timestamp() - time.time()
            assert 5 < left_s <= 15


def test_nothing_is_sent_before_its_time(timetable, queue_folder):
    timetable.tick()

    assert [header for header in sent(queue_folder) if header["task"].endswith("_changed")] == []


@pytest.mark.parametrize("name", ["learn what is due", "assess what is due"])
def test_what_is_due_is_looked_for_every_five_minutes(name):
    assert SCHEDULE[name]["schedule"] == SCHEDULE[name]["options"]["expires"] == 300


def test_everything_waits_in_the_queue_of_the_timetable():
    assert {entry["options"]["queue"] for entry in SCHEDULE.values()} == {"timetable"}


def test_the_page_that_explains_the_timetable_names_every_task():
    for entry in SCHEDULE.values():
        assert f"``{entry['task']}``" in clock.__doc__
