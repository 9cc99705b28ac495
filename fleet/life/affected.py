"""What a recall notice means for whoever looks at it: their stock, the tires they may see, and the riders to tell."""

import uuid
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime
from zoneinfo import ZoneInfo

from django.db.models import Q, QuerySet

from fleet.accounts.policy import Actor, Right, Service, author, organisations
from fleet.events.models import Entry
from fleet.events.queries import coming_entries, entries_for
from fleet.garage.models import Rider
from fleet.inventory.models import Fitting, Lot, RecallContact, RecallNotice, Tire
from fleet.inventory.queries import lots_for, riders_served
from fleet.inventory.recalls import lots_touched, recalls_of, tires_touched
from fleet.inventory.telling import TOPIC, about
from fleet.life.queries import tires_for
from fleet.notices.models import Notice


@dataclass(frozen=True)
class TouchedTire:
    """A tire a notice touches: on which wheel it is now, and the entry it rides today where there is one."""

    tire: Tire
    is_certain: bool
    fitting: Fitting | None
    entry: Entry | None
    message: Notice | None


@dataclass
class ToTell:
    """A rider with touched tires, and how they were told of it: by the service, by persons, or not yet."""

    rider: Rider
    is_contact_known: bool
    tires: list[TouchedTire] = field(default_factory=list)
    contacts: list[RecallContact] = field(default_factory=list)

    @property
    def messages(self) -> list[Notice]:
        """Return what the service told this rider."""
        return [one.message for one in self.tires if one.message]

    @property
    def told_at(self) -> datetime | None:
        """Return when the rider was first told about any of the tires."""
        moments = [one.told_at for one in self.messages] + [one.told_at for one in self.contacts]
        return min(moments, default=None)

    @property
    def read_at(self) -> datetime | None:
        """Return when the rider had read all that the service told, or nothing before."""
        moments = [one.read_at for one in self.messages]
        return max((one for one in moments if one), default=None) if all(moments) else None

    @property
    def is_reached(self) -> bool:
        """Whether a person told this rider, or the rider read what the service told."""
        return bool(self.contacts) or self.read_at is not None


@dataclass(frozen=True)
class Affected:
    """Everything one notice touches, as far as somebody may see it."""

    lots: list[Lot]
    tires: list[TouchedTire]
    riders: list[ToTell]

    @property
    def stock(self) -> int:
        """Return how many tires in stock it touches."""
        return sum(lot.in_store + lot.on_trailer for lot in self.lots)  # type: ignore[attr-defined]

    @property
    def on_wheels(self) -> list[TouchedTire]:
        """Return the tires that are on a wheel now."""
        return [one for one in self.tires if one.fitting]

    @property
    def on_track_today(self) -> list[TouchedTire]:
        """Return the tires on a bike that is entered today."""
        return [one for one in self.tires if one.entry]


def recalls_for(by: Actor) -> QuerySet[RecallNotice]:
    """Return the notices somebody may read: those for everybody, their organisations', and those on their own tires."""
    rows = RecallNotice.objects.select_related("spec__line", "line", "entered_for", "recorded_by").order_by(
        "-published_on", "-recorded_at", "id"
    )
    if isinstance(by, Service):
        return rows
    own = recalls_of(Tire.objects.filter(owner__person=by).values_list("pk", flat=True))
    touching = {recall.notice.pk for found in own.values() for recall in found}
    return rows.filter(
        Q(entered_for__isnull=True)
        | Q(entered_for__in=organisations(by, Right.READ_RECALLS))
        | Q(pk__in=touching)
    )


def affected_by(by: Actor, notice: RecallNotice, *, at: datetime) -> Affected:
    """Return what a notice touches of what somebody may see: a fixed number of queries, however much it is."""
    visible = tires_for(by, on=at.date()).order_by().values("pk")
    tires = list(tires_touched(notice).filter(pk__in=visible))
    lots = lots_for(by).filter(pk__in=lots_touched(notice).order_by().values("pk"))
    rows = _with_places(by, notice, tires, at)
    return Affected(
        lots=[lot for lot in lots if lot.in_store + lot.on_trailer],  # type: ignore[attr-defined]
        tires=rows,
        riders=_to_tell(by, notice, rows),
    )


def _with_places(by: Actor, notice: RecallNotice, tires: Iterable[Tire], at: datetime) -> list[TouchedTire]:
    by_id = {tire.pk: tire for tire in tires}
    fittings = {
        fitting.tire_id: fitting
        for fitting in Fitting.objects.filter(
            tire__in=by_id, removed_at__isnull=True, voided_at__isnull=True
        ).select_related("wheel_pair__bike")
    }
    entries = _entries_today(by, {tire.owner_id for tire in by_id.values()}, at)
    messages = {
        message.about: message
        for message in Notice.objects.filter(topic=TOPIC, about__startswith=f"{notice.pk}:")
    }
    found = []
    for tire in by_id.values():
        fitting = fittings.get(tire.pk)
        entry = None
        if fitting is not None and fitting.wheel_pair.is_in_use:
            entry = entries.get(fitting.wheel_pair.bike_id)
        certain = bool(tire.is_certain)  # type: ignore[attr-defined]  # annotated by the query
        found.append(TouchedTire(tire, certain, fitting, entry, messages.get(about(notice, tire))))
    return sorted(found, key=lambda one: (one.entry is None, one.fitting is None, one.tire.label_code))


def _entries_today(by: Actor, owners: set[uuid.UUID], at: datetime) -> dict[uuid.UUID, Entry]:
    """Return by bike who rides today: an organiser learns it of its own events, a vendor of its customers."""
    seen = Q(pk__in=entries_for(by).order_by().values("pk")) | Q(rider__in=riders_served(by).values("pk"))
    known = set(Entry.objects.filter(seen, rider__in=owners).values_list("pk", flat=True))
    return {
        entry.bike_id: entry
        for entry in coming_entries(Rider.objects.filter(pk__in=owners), at=at)
        if entry.pk in known
        and entry.day.date == at.astimezone(ZoneInfo(entry.day.layout.track.time_zone)).date()
    }


def _to_tell(by: Actor, notice: RecallNotice, tires: list[TouchedTire]) -> list[ToTell]:
    served = set(
        riders_served(by)
        .filter(pk__in={one.tire.owner_id for one in tires})
        .order_by()
        .values_list("pk", flat=True)
    )
    contacts: dict[uuid.UUID, list[RecallContact]] = defaultdict(list)
    # Whom another organisation told is its own matter: it would name its customers and its people.
    own = Q(told_for__in=organisations(by, Right.READ_RECALLS)) | Q(rider__person=author(by))
    for contact in (
        RecallContact.objects.filter(Q() if isinstance(by, Service) else own)
        .filter(notice=notice, voided_at__isnull=True)
        .select_related("recorded_by", "told_for")
        .order_by("told_at", "id")
    ):
        contacts[contact.rider_id].append(contact)
    found: dict[uuid.UUID, ToTell] = {}
    for one in tires:
        rider = one.tire.owner
        if rider.pk not in found:
            found[rider.pk] = ToTell(rider, rider.pk in served, contacts=contacts[rider.pk])
        found[rider.pk].tires.append(one)
    return sorted(
        found.values(),
        key=lambda row: (
            row.is_reached,
            not any(one.entry for one in row.tires),
            row.rider.name,
            row.rider.pk,
        ),
    )
