"""Which tires and lots a recall notice touches: derived anew each time, so that nothing fitted later slips through.

A tire is touched when its spec and its weeks match and its plant does not speak against it; where its code is unknown it
counts as touched until somebody reads it off the sidewall. What was read there counts instead of what was written down.
"""

import uuid
from collections import defaultdict
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import reduce
from operator import or_
from typing import Any, Final, TypeAlias

from django.db.models import BooleanField, Exists, ExpressionWrapper, OuterRef, Q, QuerySet, Value

from fleet.accounts.policy import SHARED_AFTER_EVENT
from fleet.garage.models import Rider
from fleet.inventory.identification import plant_spellings
from fleet.inventory.models import Fitting, Lot, RecallNotice, Removal, SidewallReading, Tire
from fleet.inventory.queries import in_reach

Condition: TypeAlias = Callable[[RecallNotice], Any]
ALWAYS: Final = ~Q(pk__in=[])


@dataclass(frozen=True)
class Recall:
    """A notice that touches a tire or a lot; uncertain where a number on the sidewall has still to be read."""

    notice: RecallNotice
    is_certain: bool

    def __str__(self) -> str:
        """Return what a person standing at the tire has to know."""
        if self.is_certain:
            return f"{self.notice}: {self.notice.what_to_do}"
        return (
            f"{self.notice} may cover this: read the number on the sidewall first. {self.notice.what_to_do}"
        )


def notices_in_force() -> QuerySet[RecallNotice]:
    """Return the notices that were neither lifted nor voided, the newest first."""
    return (
        RecallNotice.objects.filter(lifted_at__isnull=True, voided_at__isnull=True)
        .select_related("entered_for", "spec__line", "line")
        .order_by("-published_on", "-recorded_at", "id")
    )


def tires_touched(notice: RecallNotice) -> QuerySet[Tire]:
    """Return every tire a notice touches, in one query; scrapped ones and those back in their lot are left out."""
    return (
        _kept(Tire.objects.filter(_touches(notice)))
        .annotate(is_certain=_truth(_is_certain(notice)))
        .select_related("spec__line", "owner__person")
        .order_by("label_code", "id")
    )


def lots_touched(notice: RecallNotice) -> QuerySet[Lot]:
    """Return every lot a notice touches; which plant its tires came from only their sidewalls tell."""
    return Lot.objects.filter(_touches_lot(notice))


def recalls_of(tires: Iterable[uuid.UUID]) -> dict[uuid.UUID, list[Recall]]:
    """Return what touches some tires: one query where no notice is in force, two otherwise."""
    return _found(Tire.objects.filter(pk__in=set(tires)), _touches, _is_certain)


def is_tire_recalled() -> Any:
    """Return the column of a query of tires that says whether a notice in force touches each."""
    return _any_touches(_touches)


def is_lot_recalled() -> Any:
    """Return the column of a query of lots that says whether a notice in force touches each."""
    return _any_touches(_touches_lot)


def _any_touches(touches: Condition) -> Any:
    notices = list(notices_in_force())
    if not notices:
        return Value(False)
    return _truth(reduce(or_, (touches(notice) for notice in notices)))


def recalled_of(rider: Rider) -> list[tuple[Tire, list[Recall]]]:
    """Return the tires of one rider that notices in force touch, on a wheel or not, with those notices."""
    tires = {tire.pk: tire for tire in _kept(Tire.objects.filter(owner=rider)).select_related("spec__line")}
    found = recalls_of(tires)
    return [(tire, found[pk]) for pk, tire in tires.items() if pk in found]


def recalls_of_lots(lots: Iterable[uuid.UUID]) -> dict[uuid.UUID, list[Recall]]:
    """Return what touches some lots: one query where no notice is in force, two otherwise."""
    return _found(Lot.objects.filter(pk__in=set(lots)), _touches_lot, lambda notice: Value(not notice.plant))


def _kept(tires: QuerySet[Tire]) -> QuerySet[Tire]:
    standing = Fitting.objects.filter(tire=OuterRef("pk"), voided_at__isnull=True)
    scrapped = Removal.objects.filter(
        fitting__tire=OuterRef("pk"), destination=Removal.Destination.SCRAPPED, voided_at__isnull=True
    )
    return tires.filter(Q(lot__isnull=True) | Exists(standing)).exclude(Exists(scrapped))


def _found(rows: QuerySet[Any], touches: Condition, is_certain: Condition) -> dict[uuid.UUID, list[Recall]]:
    notices = list(notices_in_force())
    found: dict[uuid.UUID, list[Recall]] = defaultdict(list)
    if not notices:
        return found
    columns: dict[str, Any] = {}
    for place, notice in enumerate(notices):
        columns[f"touched_{place}"] = _truth(touches(notice))
        columns[f"certain_{place}"] = _truth(is_certain(notice))
    for row in rows.order_by().values("pk", **columns):
        for place, notice in enumerate(notices):
            if row[f"touched_{place}"]:
                found[row["pk"]].append(Recall(notice, row[f"certain_{place}"]))
    return found


def _touches(notice: RecallNotice) -> Q:
    return _names(notice) & _by_code(_may_be(notice)) & _reaches(notice)


def _touches_lot(notice: RecallNotice) -> Q:
    reached = ALWAYS if notice.entered_for_id is None else Q(vendor=notice.entered_for_id)
    return _names(notice) & _weeks(notice) & reached


def _names(notice: RecallNotice) -> Q:
    if notice.spec_id is not None:
        return Q(spec=notice.spec_id)
    axle = Q(spec__axle=notice.axle) if notice.axle else Q()
    return Q(spec__line=notice.line_id) & axle


def _weeks(notice: RecallNotice) -> Q:
    return Q(made_on__gte=notice.made_from, made_on__lte=notice.made_to)


def _may_be(notice: RecallNotice) -> Q:
    plant = Q(plant__in=["", *plant_spellings(notice.plant)]) if notice.plant else Q()
    return (_weeks(notice) | Q(made_on__isnull=True)) & plant


def _is_certain(notice: RecallNotice) -> Q:
    plant = Q(plant__in=plant_spellings(notice.plant)) if notice.plant else Q()
    return _by_code(_weeks(notice) & Q(made_on__isnull=False) & plant)


def _by_code(code: Q) -> Q:
    """Return a condition on the code read off the sidewall, or on the one written down where nobody read it."""
    read = SidewallReading.objects.filter(tire=OuterRef("pk"), voided_at__isnull=True)
    return Exists(read.filter(code)) | (code & ~Exists(read))


def _reaches(notice: RecallNotice) -> Q:
    if notice.entered_for is None:
        return ALWAYS
    since = notice.recorded_at.date() - SHARED_AFTER_EVENT
    riders = in_reach(notice.entered_for, since=since).values("pk")
    return Q(lot__vendor=notice.entered_for_id) | Q(owner__in=riders)


def _truth(condition: Any) -> "ExpressionWrapper[Any]":
    return ExpressionWrapper(condition, output_field=BooleanField())
