"""Bridge from a coming event to how likely each tire is to last all of its days."""

import uuid
from collections import defaultdict
from collections.abc import Mapping
from datetime import datetime
from typing import Final

from fleet.inventory.models import Tire
from fleet.life.histories import histories_of
from fleet.life.judging import judged
from fleet.life.learned import newest
from fleet.life.models import LearnedModel

LIKELY: Final = (
    0.9  # common practice, no published source: under one chance in ten that it ends before the event
)
EVEN: Final = 0.5


def chances_to_last(days_of: Mapping[Tire, int], *, at: datetime) -> dict[uuid.UUID, float]:
    """Return for each tire the chance that no limit is reached within a number of its rider's days on track."""
    if not days_of:
        return {}
    learned = newest(LearnedModel.Subject.WEAR)
    alike = defaultdict(list)
    for history in histories_of(list(days_of)):
        alike[days_of[history.tire]].append(history)
    found: dict[uuid.UUID, float] = {}
    for days, histories in alike.items():
        chances = judged(histories, learned=learned, at=at, days=days).result.chance_to_last_next_day
        found |= {history.tire.pk: float(chances[place]) for place, history in enumerate(histories)}
    return found
