"""Bridge from histories through the science of wear and life to stored assessments and flags."""

import uuid
from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime, time
from typing import Any, Final

import numpy as np
from django.db import IntegrityError, transaction
from django.db.models import F, OuterRef, Q, QuerySet, Subquery

from fleet.inventory.models import Removal, Tire
from fleet.life.flags import settle_flags
from fleet.life.histories import History, histories_of
from fleet.life.judging import judged, years_old
from fleet.life.learned import Learned, newest
from fleet.life.learning import last_of
from fleet.life.models import Assessment, LearnedModel
from fleet.life.queries import learned_for
from fleet.life.usage import ZONES

CHUNK: Final = 500
ASSESSED_AT: Final = (time(3, 30),)  # UTC: age and learned wear move without new facts


def stale_tires() -> list[uuid.UUID]:
    """Return the tires with facts newer than their newest assessment."""
    assessed = Assessment.objects.filter(tire=OuterRef("pk"), is_newest=True).values("tire_revision")
    rows = Tire.objects.annotate(seen=Subquery(assessed)).filter(
        Q(seen__isnull=True) | Q(seen__lt=F("revision"))
    )
    return list(rows.order_by("pk").values_list("pk", flat=True))


def due_tires(*, at: datetime) -> list[uuid.UUID]:
    """Return the tires whose newest assessment is from before the last night, or rests on an older learned model."""
    learned = learned_for(LearnedModel.Subject.WEAR)
    newest_row = Assessment.objects.filter(tire=OuterRef("pk"), is_newest=True)
    rows = _kept().annotate(
        seen_at=Subquery(newest_row.values("assessed_at")), rests_on=Subquery(newest_row.values("learned"))
    )
    outdated = Q(seen_at__lt=last_of(ASSESSED_AT, at=at))
    if learned is not None:
        outdated |= Q(seen_at__isnull=False) & (Q(rests_on__isnull=True) | ~Q(rests_on=learned.pk))
    return list(rows.filter(outdated).values_list("pk", flat=True))


def assess_changed(*, at: datetime) -> int:
    """Assess the tires whose facts changed; their number is returned."""
    return assess(stale_tires(), at=at)


def assess(tires: Iterable[uuid.UUID] | None, *, at: datetime) -> int:
    """Assess some tires, or all that were not scrapped, and settle their flags; their number is returned."""
    ids = list(_kept().values_list("pk", flat=True) if tires is None else tires)
    for _ in assess_in_steps(ids, at=at):
        pass
    return len(ids)


def assess_in_steps(ids: Sequence[uuid.UUID], *, at: datetime) -> Iterator[tuple[int, int]]:
    """Assess tires some at a time, saying after each step how many of how many are done.

    Safe to run twice and by several workers: a tire has one newest assessment, and an assessment of older facts is
    found stale by the next sweep.
    """
    learned = newest(LearnedModel.Subject.WEAR)
    for start in range(0, len(ids), CHUNK):
        chunk = ids[start : start + CHUNK]
        rows = Tire.objects.filter(pk__in=chunk).select_related("spec__line", "owner__person").order_by("pk")
        _store(rows_for(histories_of(rows), learned=learned, at=at), at=at)
        yield min(start + CHUNK, len(ids)), len(ids)


def rows_for(
    histories: Sequence[History], *, learned: Learned, at: datetime
) -> list[tuple[History, Assessment]]:
    """Return the assessment of each tire, unsaved, all tires in one call of the science."""
    if not histories:
        return []
    found = judged(histories, learned=learned, at=at)
    result, pace, prior = found.result, found.pace, found.prior
    return [
        (
            history,
            Assessment(
                tire=history.tire,
                assessed_at=at,
                assessed_on=at.date(),
                tire_revision=history.tire.revision,
                learned=learned.row,
                state=str(result.state[index]),
                binding_limit=str(result.binding_limit[index]),
                remaining_days_10=_rounded(result.remaining_days[index, 0]),
                remaining_days_50=_rounded(result.remaining_days[index, 1]),
                remaining_days_90=_rounded(result.remaining_days[index, 2]),
                chance_next_day=_rounded(result.chance_to_last_next_day[index], 4),
                heat_cycles=int(found.cycles[index]),
                days_run=int(found.days_run[index]),
                readings=len(history.treads),
                provenance={
                    "day_km": round(pace[index].day_km, 1),
                    "day_severity_km": round(pace[index].day_severity_km, 1),
                    "rider_days": pace[index].days,
                    "rate_mm_per_1000km": _rounded(prior.median_mm_per_1000km[index]),
                    "rate_sigma": _rounded(prior.sigma[index]),
                    "rates_of_product": int(prior.readings[index]),
                    "wear_limit_mm": history.tire.spec.wear_limit_mm,
                    "severity_km": _rounded(found.series.now_km[index]),
                    "is_thin": not history.treads and not int(prior.readings[index]),
                },
                **_usage(history, ZONES[found.zone[index]], at),
            ),
        )
        for index, history in enumerate(histories)
    ]


def _usage(history: History, zone: str, at: datetime) -> dict[str, Any]:
    read = [(taken_at, depth) for taken_at, where, depth in history.treads if where == zone]
    return {
        "distance_km": round(sum(run.distance_km for run in history.runs), 3),
        "road_km": round(sum(run.distance_km for run in history.runs if not run.track), 3),
        "depth_mm": read[-1][1] if read else None,
        "depth_zone": zone if read else "",
        "age_years": _known(years_old(history, at)),
    }


def _known(value: float) -> float | None:
    return None if np.isnan(value) else round(float(value), 2)


def _rounded(value: Any, digits: int = 3) -> float:
    return round(float(value), digits)


def _kept() -> QuerySet[Tire]:
    """Return the tires that were not scrapped."""
    scrapped = Removal.objects.filter(destination=Removal.Destination.SCRAPPED, voided_at__isnull=True)
    return Tire.objects.exclude(pk__in=scrapped.values("fitting__tire")).order_by("pk")


def _store(found: list[tuple[History, Assessment]], *, at: datetime) -> None:
    tires = [history.tire.pk for history, _ in found]
    try:
        with transaction.atomic():
            Assessment.objects.filter(tire__in=tires, is_newest=True).update(is_newest=False)
            Assessment.objects.filter(tire__in=tires, is_newest=False, assessed_on=at.date()).delete()
            Assessment.objects.bulk_create([row for _, row in found])
            settle_flags(found, at=at)
    except IntegrityError:
        return  # another worker stored these tires at the same moment; what it missed is stale and comes again
