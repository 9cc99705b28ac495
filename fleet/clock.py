"""Everything that runs by the clock, with its timetable, on one page.

| what | when | task |
|---|---|---|
| assess the tires whose facts changed | every 15 s | ``fleet.life.tasks.assess_changed`` |
| draft the guidance whose conditions, entries or readings changed | every 15 s | ``fleet.pressures.tasks.draft_changed`` |
| tell the owners of recalled tires who were not told yet | every 15 s | ``fleet.inventory.tasks.tell_recalled`` |
| send what people want to be told by e-mail | every 15 s | ``fleet.notices.tasks.send_mails`` |
| let go the reservations nobody came for | every 5 min | ``fleet.inventory.tasks.expire_reservations`` |
| tell riders of sets that will rather not last their next event | every 5 min | ``fleet.life.tasks.tell_lasting`` |
| refit the pooled models where readings wait since 03:10 or 19:30 UTC | every 5 min | ``fleet.life.tasks.learn_due`` |
| assess every tire not seen since 03:30 UTC or since the last refit | every 5 min | ``fleet.life.tasks.assess_due`` |
| forget the answers kept for repeated requests for 48 h | every 5 min | ``fleet.replies.tasks.sweep_replies`` |
| read the forecasts of today and tomorrow, where ``FLEET_FORECAST_SOURCE`` is set | every 5 min | ``fleet.exchange.tasks.read_weather`` |
| remove the files of photos that were never stored | every h | ``fleet.photos.tasks.sweep_photos`` |
| forget the lists that were sent to look at a day ago | every 5 min | ``fleet.exchange.tasks.sweep_uploads`` |

The tasks read from the database what there is to do, so a lost, doubled or late message loses nothing, and a machine
that slept through the night catches up. A message that waited until the next one is sent is dropped (``expires``).
"""

from typing import Any

from celery import Task

from fleet.celery import app
from fleet.exchange.tasks import read_weather, sweep_uploads
from fleet.inventory.tasks import expire_reservations, tell_recalled
from fleet.life.tasks import assess_changed, assess_due, learn_due, tell_lasting
from fleet.notices.tasks import send_mails
from fleet.photos.tasks import sweep_photos
from fleet.pressures.tasks import draft_changed
from fleet.replies.tasks import sweep_replies

SWEEP_EVERY_S = 15
LOOK_EVERY_S = 300
TIDY_EVERY_S = 3600


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
    "tell who is recalled": every(tell_recalled, SWEEP_EVERY_S),
    "send what waits": every(send_mails, SWEEP_EVERY_S),
    "let go late reservations": every(expire_reservations, LOOK_EVERY_S),
    "tell what will not last": every(tell_lasting, LOOK_EVERY_S),
    "learn what is due": every(learn_due, LOOK_EVERY_S),
    "assess what is due": every(assess_due, LOOK_EVERY_S),
    "forget old answers": every(sweep_replies, LOOK_EVERY_S),
    "read the weather": every(read_weather, LOOK_EVERY_S),
    "remove files of no photo": every(sweep_photos, TIDY_EVERY_S),
    "forget old lists": every(sweep_uploads, LOOK_EVERY_S),
}
