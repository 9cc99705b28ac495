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

from celery import Task
from celery.schedules import crontab

from fleet.celery import app
from fleet.life.tasks import assess_all, assess_changed, learn_all
from fleet.pressures.tasks import draft_changed

SWEEP_EVERY_S = 15
DAILY_WITHIN_S = 6 * 3600


def sweep(task: Task[[], int]) -> dict[str, Any]:
    """Return the entry of a task that looks for changes all day."""
    return {
        "task": task.name,
        "schedule": SWEEP_EVERY_S,
        "options": {"queue": "timetable", "expires": SWEEP_EVERY_S},
    }


def daily(task: Task[[], int], *, hour: int, minute: int) -> dict[str, Any]:
    """Return the entry of a task that runs once a day at a time in UTC."""
    return {
        "task": task.name,
        "schedule": crontab(hour=str(hour), minute=str(minute)),
        "options": {"queue": "timetable", "expires": DAILY_WITHIN_S},
    }


app.conf.beat_schedule = {
    "assess what changed": sweep(assess_changed),
    "draft what changed": sweep(draft_changed),
    "learn in the evening": daily(learn_all, hour=19, minute=30),
    "learn at night": daily(learn_all, hour=3, minute=10),
    "assess every tire": daily(assess_all, hour=3, minute=30),
}
