"""Bridge that learns from everybody's readings and stores what was learned."""

from datetime import datetime

import numpy as np
from django.db.models import Q

from fleet.life.heating_rows import learned_heating
from fleet.life.models import LearnedModel
from fleet.life.queries import learned_for
from fleet.life.wear_rows import learned_wear
from fleet.running.models import PressureReading, TreadReading
from fleet.science.pooling.packing import pack


def learn(subject: str, *, at: datetime) -> LearnedModel | None:
    """Fit everything read so far and store it as the newest model of a subject; nothing where nothing was read."""
    learned = learned_heating() if subject == LearnedModel.Subject.HEATING else learned_wear()
    if learned.pooled is None:
        return None
    pooled = learned.pooled
    return LearnedModel.objects.create(
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


def has_new_readings(subject: str) -> bool:
    """Return whether readings were recorded or voided since a subject was last learned."""
    row = learned_for(subject)
    readings = PressureReading if subject == LearnedModel.Subject.HEATING else TreadReading
    if row is None:
        return readings.objects.exists()
    since = Q(recorded_at__gt=row.learned_at) | Q(voided_at__gt=row.learned_at)
    return readings.objects.filter(since).exists()
