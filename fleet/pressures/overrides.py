"""What people set in the place of computed lines, kept over from one draft to the next."""

import hashlib
import uuid
from collections import defaultdict
from collections.abc import Iterable
from typing import Final

from django.db.models import QuerySet

from fleet.events.models import Day
from fleet.pressures.lines import limits_of
from fleet.pressures.models import Guidance, GuidanceLine, Override

SLACK_KPA: Final = 0.05  # a figure typed in another unit may lie a rounding beyond the limit it was read from
_CARRIED: Final = uuid.UUID("5f0a3f57-9d0e-4a63-8a1b-7d0b5f2f4c55")


def standing_overrides(day: Day) -> QuerySet[Override]:
    """Return what was set by hand in a day's newest draft."""
    return Override.objects.filter(line__guidance__day=day, line__guidance__is_newest=True).select_related(
        "line__spec__line", "line__part"
    )


def carry_over(standing: Iterable[Override], lines: Iterable[GuidanceLine]) -> None:
    """Put what was set by hand on the same lines of a newer draft, in every part of the day that lies in the part it was set for.

    What left the spec's range meanwhile falls away.
    """
    by_line: dict[tuple[uuid.UUID, uuid.UUID, bool], list[GuidanceLine]] = defaultdict(list)
    for line in lines:
        if line.entry_id is None:
            by_line[_key(line)].append(line)
    kept = []
    for one in standing:
        within = [line for line in by_line[_key(one.line)] if one.line.part.holds(line.part)]
        for line in within:
            if not one.is_beyond_range and not is_within(line, one.set_kpa):
                continue
            # The key follows from both rows, so that two workers who draft at once store the same.
            kept.append(
                Override(
                    id=uuid.uuid5(_CARRIED, f"{one.pk}{line.pk}"),
                    line=line,
                    set_kpa=one.set_kpa,
                    reason=one.reason,
                    is_beyond_range=one.is_beyond_range,
                    made_by_id=one.made_by_id,
                    made_at=one.made_at,
                )
            )
    Override.objects.bulk_create(kept)


def is_within(line: GuidanceLine, kpa: float) -> bool:
    """Return whether a pressure lies in the range of a line's spec."""
    lower, upper = limits_of(line.spec)
    return lower - SLACK_KPA <= kpa <= upper + SLACK_KPA


def mark_of_overrides(guidance: Guidance) -> str:
    """Return a mark that changes with anything set by hand in a draft, so that nobody issues what they have not seen."""
    rows = Override.objects.filter(line__guidance=guidance).order_by("line")
    told = repr(list(rows.values_list("line", "set_kpa", "reason")))
    return hashlib.sha256(told.encode()).hexdigest()[:16]


def _key(line: GuidanceLine) -> tuple[uuid.UUID, uuid.UUID, bool]:
    return (line.group_id, line.spec_id, line.uses_warmers)
