"""Everything that runs by the clock, with its timetable, on one page.

| what | when | task |
|---|---|---|
| assess the tires whose facts changed | every 15 s | ``fleet.life.tasks.assess_changed`` |
| draft the guidance whose conditions, entries or readings changed | every 15 s | ``fleet.pressures.tasks.draft_changed`` |
| refit the pooled models where readings wait since 03:10 or 19:30 UTC | every 5 min | ``fleet.life.tasks.learn_due`` |
| assess every tire not seen since 03:30 UTC or since the last refit | every 5 min | ``fleet.life.tasks.assess_due`` |

The tasks read from the database what there is to do, so a lost, doubled or late message loses nothing, and a machine
that slept through the night catches up. A message that waited until the next one is sent is dropped (``expires``).
"""

from typing import Any

from celery import Task

from fleet.celery import app
from fleet.life.tasks import assess_changed, assess_due, learn_due
from fleet.pressures.tasks import draft_changed

SWEEP_EVERY_S = 15
LOOK_EVERY_S = 300


def every(task: Task[[], int], seconds: int) -> dict[str, Any]:
    """Return the entry of a task that looks again and again for what is to be done."""
    return {
        "task": task.name,
        "schedule": seconds,
        "options": {"queue": "timetable", "expires": seconds},
    }


app.conf.beat_schedule = {
    "assess what changed": every(assess_changed, SWEEP_EVERY_S),
    "draft what changed": every(draft_changed, SWEEP_EVERY_S),
    "learn what is due": every(learn_due, LOOK_EVERY_S),
    "assess what is due": every(assess_due, LOOK_EVERY_S),
}
