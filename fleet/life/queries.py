"""Reads of assessments and flags, narrowed to what the asker may see."""

import uuid
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from django.db.models import Exists, OuterRef, Prefetch, Q, QuerySet

from fleet.accounts.policy import Actor, Right, Service, organisations
from fleet.events.queries import entrants_for
from fleet.garage.models import Rider, WheelPair
from fleet.inventory.inspection import Inspection
from fleet.inventory.labels import ids_marked, without_groups
from fleet.inventory.models import Fitting, Hold, Tire
from fleet.inventory.ownership import once_theirs, records_of, since_last_handed
from fleet.inventory.queries import own_or_served, riders_served
from fleet.inventory.recalls import Recall, recalls_of
from fleet.life.models import Assessment, Flag, LearnedModel, State
from fleet.photos.models import Photo
from fleet.running.queries import surface_notes_for


def learned_for(subject: str) -> LearnedModel | None:
    """Return the newest learned model of a subject."""
    return LearnedModel.objects.filter(subject=subject).order_by("-learned_at", "-id").first()


def tires_for(by: Actor, *, on: date) -> QuerySet[Tire]:
    """Return the tires somebody may see: their own, those of a vendor's customers, those of an organiser's entrants."""
    standing = Fitting.objects.filter(tire=OuterRef("pk"), voided_at__isnull=True)
    rows = (
        Tire.objects.filter(
            Q(lot__isnull=True) | Exists(standing)
        )  # a voided fitting put the tire back in its lot
        .select_related("spec__line", "owner")
        .order_by("label_code", "id")
    )
    if isinstance(by, Service):
        return rows
    return rows.filter(
        Q(owner__person=by)
        | Q(owner__in=riders_served(by).values("pk"))
        | Q(owner__in=entrants_for(by, on=on).values("pk"))
    )


def tires_told_whole(by: Actor, *, on: date) -> QuerySet[Tire]:
    """Return the tires whose whole life and story somebody may read; an event's crew reads state, limit and holds only."""
    rows = tires_for(by, on=on)
    if isinstance(by, Service):
        return rows
    inspected = entrants_for(by, on=on, right=Right.READ_ENTRANT_LIFE)
    return rows.filter(
        Q(owner__person=by)
        | Q(owner__in=riders_served(by).values("pk"))
        | Q(owner__in=inspected.values("pk"))
    )


def tires_to_label(by: Actor, *, on: date) -> QuerySet[Tire]:
    """Return the tires whose label somebody may print: their own, and those of a vendor's customers."""
    return tires_for(by, on=on).filter(owner__in=Rider.objects.filter(own_or_served(by)).values("pk"))


def tires_read_off(by: Actor, text: str, *, on: date) -> QuerySet[Tire]:
    """Return the tires of a vendor's customers that a label names: by its short code, or by the address in its QR code."""
    return tires_for(by, on=on).filter(named_on_label(text), owner__in=riders_served(by).values("pk"))


def named_on_label(text: str) -> Q:
    """Return the condition on a tire that a label names it: by its short code, or by the address in its QR code."""
    code = text.rpartition("/")[2]
    named = Q(label_code__iexact=text) | Q(label_code__iexact=without_groups(code))
    span = ids_marked(code)
    return named if span is None else named | Q(pk__range=span)


def inspections_for(by: Actor, *, on: date) -> QuerySet[Inspection]:
    """Return the standing inspections somebody may read: of tires told whole to them, and their own organisation's."""
    told = Q(tire__in=tires_told_whole(by, on=on).order_by().values("pk")) & since_last_handed("inspected_at")
    told |= once_theirs(records_of(by), "inspected_at")
    rows = Inspection.objects.standing().filter(
        told | Q(inspected_for__in=organisations(by, Right.HOLD).values("pk"))
    )
    return rows.select_related("inspected_for").order_by("-inspected_at", "id")


def photos_for(by: Actor, *, on: date) -> QuerySet[Photo]:
    """Return the photos somebody may see: those of each kind of fact that has one, as far as they may read it."""
    notes = surface_notes_for(by).filter(voided_at__isnull=True)
    return Photo.objects.filter(
        Q(pk__in=inspections_for(by, on=on).order_by().values("photo"))
        | Q(pk__in=notes.order_by().values("photo"))
    )


def last_inspections(rows: QuerySet[Inspection], tires: Iterable[uuid.UUID]) -> dict[uuid.UUID, Inspection]:
    """Return the newest of some inspections for each of some tires, in one query."""
    newest: dict[uuid.UUID, Inspection] = {}
    for one in rows.filter(tire__in=set(tires)).order_by("-inspected_at", "id"):
        newest.setdefault(one.tire_id, one)
    return newest


def newest_assessments(by: Actor, *, on: date) -> QuerySet[Assessment]:
    """Return the newest assessment of each tire somebody may see, the nearest to its end first."""
    return (
        Assessment.objects.filter(is_newest=True, tire__in=tires_for(by, on=on).order_by().values("pk"))
        .select_related("tire__spec__line", "tire__owner")
        .order_by("remaining_days_50", "tire__label_code", "id")
    )


def in_use(assessments: QuerySet[Assessment]) -> QuerySet[Assessment]:
    """Return the assessments of tires that are on a wheel now."""
    return assessments.filter(
        Exists(Fitting.objects.filter(tire=OuterRef("tire"), removed_at__isnull=True, voided_at__isnull=True))
    )


def open_flags(by: Actor, *, on: date) -> QuerySet[Flag]:
    """Return the flags nothing has cleared, of tires somebody may see, the oldest first."""
    return (
        Flag.objects.filter(cleared_at__isnull=True, tire__in=tires_for(by, on=on).order_by().values("pk"))
        .select_related("tire__spec__line", "tire__owner", "acknowledged_by")
        .order_by("raised_at", "id")
    )


@dataclass(frozen=True)
class MountedTire:
    """A tire on an axle, with what was last computed about it (nothing before the first assessment)."""

    fitting: Fitting
    assessment: Assessment | None
    holds: tuple[Hold, ...] = ()
    recalls: tuple[Recall, ...] = ()

    @property
    def is_on_hold(self) -> bool:
        """Whether somebody placed a hold on the tire, or a recall touches it."""
        return bool(self.holds or self.recalls)

    @property
    def is_stopped(self) -> bool:
        """Whether the tire must not go out, so that a pressure for it would only mislead."""
        return self.is_on_hold or (self.assessment is not None and self.assessment.state == State.STAND_DOWN)


@dataclass(frozen=True)
class SetView:
    """A wheel pair with the tires on it by axle."""

    wheel_pair: WheelPair
    tires: dict[str, MountedTire]


def sets_of(riders: QuerySet[Rider] | list[Rider], *, only_in_use: bool = True) -> list[SetView]:
    """Return the wheel pairs of some riders with their tires: five queries, however many riders; six under a recall."""
    pairs = WheelPair.objects.filter(bike__rider__in=riders).select_related("bike__rider")
    if only_in_use:
        pairs = pairs.filter(is_in_use=True)
    newest = Assessment.objects.filter(is_newest=True)
    mounted = (
        Fitting.objects.filter(removed_at__isnull=True, voided_at__isnull=True)
        .select_related("tire__spec__line")
        .order_by("axle")
        .prefetch_related(
            Prefetch("tire__assessments", queryset=newest, to_attr="newest"),
            Prefetch(
                "tire__holds",
                queryset=Hold.objects.filter(lifted_at__isnull=True, voided_at__isnull=True),
                to_attr="open_holds",
            ),
        )
    )
    rows = pairs.order_by("bike__code", "code").prefetch_related(
        Prefetch("fittings", queryset=mounted, to_attr="mounted")
    )
    recalled = recalls_of(fitting.tire_id for pair in rows for fitting in pair.mounted)
    return [
        SetView(
            pair,
            {
                fitting.axle: MountedTire(
                    fitting,
                    next(iter(fitting.tire.newest), None),
                    tuple(fitting.tire.open_holds),
                    tuple(recalled.get(fitting.tire_id, ())),
                )
                for fitting in pair.mounted
            },
        )
        for pair in rows
    ]
