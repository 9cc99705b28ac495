"""Bridge that learns from everybody's readings and stores what was learned."""

from collections.abc import Iterable
from datetime import UTC, datetime, time, timedelta
from typing import Final

import numpy as np
from django.db.models import Q

from fleet.life.heating_rows import learned_heating
from fleet.life.models import LearnedModel
from fleet.life.queries import learned_for
from fleet.life.wear_rows import learned_wear
from fleet.running.models import PressureReading, TreadReading
from fleet.science.pooling.packing import pack

LEARNED_AT: Final = (time(3, 10), time(19, 30))  # UTC: at night, and in the evening of an event day

KEPT_MODELS: Final = 30


def last_of(times: Iterable[time], *, at: datetime) -> datetime:
    """Return the latest moment up to ``at`` at which one of some times of the day (UTC) came round."""
    today = at.astimezone(UTC).date()
    moments = [datetime.combine(today - timedelta(days=ago), one, UTC) for ago in (0, 1) for one in times]
    return max(moment for moment in moments if moment <= at)


def is_due(subject: str, *, at: datetime) -> bool:
    """Return whether new readings wait and nothing was learned since the last of the times for it."""
    row = learned_for(subject)
    return (row is None or row.learned_at < last_of(LEARNED_AT, at=at)) and has_new_readings(subject)


def learn(subject: str, *, at: datetime) -> LearnedModel | None:
    """Fit everything read so far and store it as the newest model of a subject; nothing where nothing was read.

    The newest thirty models of a subject are kept.
    """
    learned = learned_heating() if subject == LearnedModel.Subject.HEATING else learned_wear()
    if learned.pooled is None:
        return None
    pooled = learned.pooled
    row = LearnedModel.objects.create(
        subject=subject,
        learned_at=at,
        rows=pooled.rows,
        spreads={
            "sd": pooled.sd | {"residual": pooled.residual_sd},
            "dof": {name: value for name, value in pooled.dof.items() if np.isfinite(value)},
        },
        levels=learned.levels,
        packed=pack(pooled),
    )
    kept = LearnedModel.objects.filter(subject=subject).order_by("-learned_at", "-id")[:KEPT_MODELS]
    LearnedModel.objects.filter(subject=subject).exclude(pk__in=[one.pk for one in kept]).delete()
    return row


def has_new_readings(subject: str) -> bool:
    """Return whether readings were recorded or voided since a subject was last learned."""
    row = learned_for(subject)
    readings = PressureReading if subject == LearnedModel.Subject.HEATING else TreadReading
    if row is None:
        return readings.objects.exists()
    since = Q(recorded_at__gt=row.learned_at) | Q(voided_at__gt=row.learned_at)
    return readings.objects.filter(since).exists()
