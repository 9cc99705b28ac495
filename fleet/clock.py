"""Everything that runs by the clock, with its timetable, on one page.

| what | when (UTC) | task |
|---|---|---|
| assess the tires whose facts changed | every 15 s | ``fleet.life.tasks.assess_changed`` |
| draft the guidance whose conditions, entries or readings changed | every 15 s | ``fleet.pressures.tasks.draft_changed`` |
| refit the pooled models | 03:10, and 19:30 after an event day | ``fleet.life.tasks.learn_all`` |
| assess every tire in use | 03:30, after the models | ``fleet.life.tasks.assess_all`` |

The tasks read from the database what there is to do, so a lost, doubled or late message loses nothing. A message that
waited longer than its place in the timetable allows is dropped (``expires``): the next one does the same work.
"""

from typing import Any

from celery.schedules import crontab

from fleet.celery import app

SWEEP_EVERY_S = 15
NIGHTLY_WITHIN_S = 6 * 3600


def sweep(task: str) -> dict[str, Any]:
    """Return the entry of a task that looks for changes all day."""
    return {
        "task": task,
        "schedule": SWEEP_EVERY_S,
        "options": {"queue": "timetable", "expires": SWEEP_EVERY_S},
    }


def daily(task: str, *, hour: int, minute: int) -> dict[str, Any]:
    """Return the entry of a task that runs once a day at a time in UTC."""
    return {
        "task": task,
        "schedule": crontab(hour=hour, minute=minute),
        "options": {"queue": "timetable", "expires": NIGHTLY_WITHIN_S},
    }


app.conf.beat_schedule = {
    "assess what changed": sweep("fleet.life.tasks.assess_changed"),
    "draft what changed": sweep("fleet.pressures.tasks.draft_changed"),
    "learn in the evening": daily("fleet.life.tasks.learn_all", hour=19, minute=30),
    "learn at night": daily("fleet.life.tasks.learn_all", hour=3, minute=10),
    "assess every tire": daily("fleet.life.tasks.assess_all", hour=3, minute=30),
}
