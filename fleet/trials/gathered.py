"""Bridge to the science of reference notes: what others reported for a tire, weighed by how alike their day was to this one."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Final

import numpy as np

from fleet.accounts.models import Organisation
from fleet.catalogue.models import PressureSpec, ReferenceNote, TireSpec
from fleet.catalogue.queries import notes_counting_for
from fleet.events.models import Conditions
from fleet.life.usage import practice_for
from fleet.pressures.targets import hot_kpa_of, published_for, targets_for
from fleet.science.inflation import start_gauge_kpa
from fleet.science.reference_notes import PooledNotes, likeness, pool_reference_notes

Z_80: Final = 1.2815515655446004
"""Standard deviations on either side of the middle that hold 80 % of a normal distribution."""


@dataclass(frozen=True)
class Weighed:
    """One note with the hot pressure it comes to and how much it counts, from 0 to 1."""

    note: ReferenceNote
    hot_kpa: float
    weight: float


@dataclass(frozen=True)
class Gathered:
    """What is known of the pressure one tire needs: the notes, what they pool to, the maker's and practice's figures."""

    spec: TireSpec
    notes: tuple[Weighed, ...]
    pooled: PooledNotes
    published: tuple[PressureSpec, ...]
    target_kpa: float
    target_sd_kpa: float
    basis: str
    practice_kpa: float
    practice_rise_c: float
    start_kpa: float
    limit_hit: str

    @property
    def has_pooled(self) -> bool:
        """Return whether the notes are like enough to say anything."""
        return self.pooled.notes_used > 0

    @property
    def low_kpa(self) -> float:
        """Return the lower end of the pooled figure's 80 % interval."""
        return self.pooled.hot_kpa - Z_80 * self.pooled.sd_kpa

    @property
    def high_kpa(self) -> float:
        """Return its upper end."""
        return self.pooled.hot_kpa + Z_80 * self.pooled.sd_kpa


def gathered_for(
    specs: Sequence[TireSpec],
    *,
    testing: Organisation,
    air_c: float,
    track_surface_c: float,
    barometer_kpa: float,
    on: date,
) -> list[Gathered]:
    """Return what is known of the pressure each tire needs on a day, and the start pressure that follows.

    Beside the shared notes those count that the testers of the organisation gathered.
    """
    asked = Conditions(air_c=air_c, track_surface_c=track_surface_c)
    target = targets_for(specs, conditions=[asked] * len(specs), on=on, testing=testing)
    published = published_for(specs)
    found = []
    for place, spec in enumerate(specs):
        notes = list(
            notes_counting_for(testing)
            .filter(spec=spec)
            .select_related("spec__line")
            .order_by("noted_on", "id")
        )
        weighed = _weighed(notes, air_c=air_c, track_surface_c=track_surface_c, on=on)
        known = practice_for(spec)
        hot = float(target.hot_kpa[place])
        start = float(start_gauge_kpa(hot, air_c + known.settled_rise_c, air_c, barometer_kpa))
        held, limit = _within_range(spec, start)
        found.append(
            Gathered(
                spec=spec,
                notes=weighed,
                pooled=pool_reference_notes(
                    [one.hot_kpa for one in weighed], [one.weight for one in weighed]
                ),
                published=tuple(row for (pk, _), row in published.items() if pk == spec.pk),
                target_kpa=hot,
                target_sd_kpa=float(target.sd_kpa[place]),
                basis=str(target.basis[place]),
                practice_kpa=known.hot_target_kpa,
                practice_rise_c=known.settled_rise_c,
                start_kpa=held,
                limit_hit=limit,
            )
        )
    return found


def _weighed(
    notes: Sequence[ReferenceNote], *, air_c: float, track_surface_c: float, on: date
) -> tuple[Weighed, ...]:
    def less(values: Sequence[float | None], today: float) -> list[float]:
        return [np.nan if value is None else value - today for value in values]

    weights = likeness(
        air_difference_c=less([note.air_c for note in notes], air_c),
        track_difference_c=less([note.track_surface_c for note in notes], track_surface_c),
        pace_difference=np.full(len(notes), np.nan),
        age_days=[max((on - note.noted_on).days, 0) for note in notes],
    )
    return tuple(
        Weighed(note, hot_kpa_of(note), float(weight)) for note, weight in zip(notes, weights, strict=True)
    )


def _within_range(spec: TireSpec, start_kpa: float) -> tuple[float, str]:
    """Return a start pressure within the range the maker allows, and which end held it."""
    if spec.lower_kpa is not None and start_kpa < spec.lower_kpa:
        return spec.lower_kpa, "lower"
    if spec.upper_kpa is not None and start_kpa > spec.upper_kpa:
        return spec.upper_kpa, "upper"
    return start_kpa, ""
