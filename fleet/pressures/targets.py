"""Bridge from what is published and reported about specs to the hot pressure each needs."""

import uuid
from collections import defaultdict
from collections.abc import Sequence
from datetime import date
from typing import Final

import numpy as np
from django.db.models import Q

from fleet.accounts.models import Organisation
from fleet.catalogue.models import PressureSpec, ReferenceNote, TireSpec
from fleet.catalogue.queries import notes_counting_for, shared_notes
from fleet.events.models import Conditions
from fleet.life.usage import practice_for
from fleet.science.hot_target import Target, needed_hot_kpa
from fleet.science.inflation import gauge_after_kpa
from fleet.science.practice import REFERENCE_AIR_C
from fleet.science.reference_notes import PooledNotes, likeness, pool_reference_notes

NO_NOTES: Final = PooledNotes(np.nan, np.nan, 0)
SEA_LEVEL_KPA: Final = 101.325
WARMERS_C: Final = 80.0  # common practice, no published source: the usual setting of tire warmers


def targets_for(
    specs: Sequence[TireSpec],
    *,
    conditions: Sequence[Conditions | None],
    on: date,
    testing: Organisation | None = None,
) -> Target:
    """Return what each spec needs hot in its weather, from the best source there is, one entry per spec.

    Without conditions no reference note can be likened to them, and none counts. What an organisation's testers
    gathered counts only where they are ``testing``.
    """
    published = published_for(specs)
    notes = _notes(specs, testing=testing) if any(conditions) else {}
    known = [practice_for(spec) for spec in specs]
    pooled = [
        _pooled(notes[spec.pk], conditions=one, on=on) if one and spec.pk in notes else NO_NOTES
        for spec, one in zip(specs, conditions, strict=True)
    ]

    def column(basis: str, name: str) -> list[float]:
        rows = [published.get((spec.pk, basis)) for spec in specs]
        values = [getattr(row, name) if row else None for row in rows]
        return [np.nan if value is None else value for value in values]

    cold_c = np.array(column("cold", "reference_c"))
    return needed_hot_kpa(
        practice_hot_kpa=[one.hot_target_kpa for one in known],
        practice_sd_kpa=[one.hot_target_sd_kpa for one in known],
        practice_rise_c=[one.settled_rise_c for one in known],
        practice_rise_sd_c=[one.settled_rise_sd_c for one in known],
        maker_hot_kpa=column("hot", "pressure_kpa"),
        maker_cold_kpa=column("cold", "pressure_kpa"),
        maker_cold_c=np.where(np.isnan(cold_c), REFERENCE_AIR_C, cold_c),
        maker_off_warmers_kpa=column("off_warmers", "pressure_kpa"),
        maker_off_warmers_c=column("off_warmers", "reference_c"),
        notes_hot_kpa=[one.hot_kpa for one in pooled],
        notes_sd_kpa=[one.sd_kpa for one in pooled],
        notes_used=[one.notes_used for one in pooled],
    )


def published_for(specs: Sequence[TireSpec]) -> dict[tuple[uuid.UUID, str], PressureSpec]:
    """Return the track pressure published for each spec and basis, the spec's own before its line's."""
    rows = PressureSpec.objects.filter(
        Q(spec__in=specs) | Q(spec__isnull=True, line__in={spec.line_id for spec in specs}),
        use=PressureSpec.Use.TRACK,
    )
    by_spec = {(row.spec_id, row.basis): row for row in rows if row.spec_id}
    by_line = {(row.line_id, row.axle, row.basis): row for row in rows if not row.spec_id}
    found = {}
    for spec in specs:
        for basis in PressureSpec.Basis.values:
            row = by_spec.get((spec.pk, basis)) or by_line.get((spec.line_id, spec.axle, basis))
            if row is not None:
                found[spec.pk, basis] = row
    return found


def _notes(
    specs: Sequence[TireSpec], *, testing: Organisation | None
) -> dict[uuid.UUID, list[ReferenceNote]]:
    """Return the reference notes that count for each spec."""
    grouped: dict[uuid.UUID, list[ReferenceNote]] = defaultdict(list)
    counting = notes_counting_for(testing) if testing else shared_notes()
    for row in counting.filter(spec__in=specs).select_related("spec__line").order_by("noted_on", "id"):
        grouped[row.spec_id].append(row)
    return grouped


def _pooled(notes: Sequence[ReferenceNote], *, conditions: Conditions, on: date) -> PooledNotes:
    """Return the notes of one spec as one; a note that is not hot is carried to hot by the gas law."""
    alike = likeness(
        air_difference_c=_less([note.air_c for note in notes], conditions.air_c),
        track_difference_c=_less([note.track_surface_c for note in notes], conditions.track_surface_c),
        pace_difference=np.full(len(notes), np.nan),
        age_days=[max((on - note.noted_on).days, 0) for note in notes],
    )
    return pool_reference_notes([hot_kpa_of(note) for note in notes], alike)


def _less(values: list[float | None], today: float) -> list[float]:
    return [np.nan if value is None else value - today for value in values]


def hot_kpa_of(note: ReferenceNote) -> float:
    """Return the hot pressure a note comes to; one that is not hot is carried there by the gas law and the usual rise."""
    if note.basis == PressureSpec.Basis.HOT:
        return note.pressure_kpa
    air_c = REFERENCE_AIR_C if note.air_c is None else note.air_c
    set_c = WARMERS_C if note.basis == PressureSpec.Basis.OFF_WARMERS else air_c
    hot_c = air_c + practice_for(note.spec).settled_rise_c
    return float(gauge_after_kpa(note.pressure_kpa, set_c, hot_c, SEA_LEVEL_KPA))
