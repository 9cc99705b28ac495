"""What somebody may name or list: one row source per noun, each narrowed to the person who asks.

Every one takes the person and the moment, so that input fields and views look rows up in the same way.
"""

from datetime import datetime

from django.db.models import Q, QuerySet

from fleet.accounts.models import Organisation, Person
from fleet.accounts.policy import Right, organisations
from fleet.catalogue.models import PressureSpec, TireLine, TireSpec
from fleet.events.models import Day, Entry, Event, Group, Layout, Track
from fleet.events.queries import days_for, events_for
from fleet.garage.models import Bike, Instrument, Rider, WheelPair
from fleet.inventory.models import Fitting, Hold, JobTicket, Lot, Removal, Tire
from fleet.inventory.queries import fittings_for, lots_for, own_or_served, riders_served, tickets_for
from fleet.life.queries import tires_for
from fleet.pressures.models import Guidance
from fleet.running.models import FeelNote, Stint, SurfaceNote, TemperatureReading
from fleet.running.queries import stints_for


def own_organisations(by: Person, _at: datetime) -> QuerySet[Organisation]:
    """Return the organisations somebody belongs to, and those that serve them or run events they entered."""
    own = Rider.objects.filter(person=by).values("pk")
    return Organisation.objects.filter(
        Q(pk__in=by.memberships.values("organisation"))
        | Q(pk__in=Rider.objects.filter(person=by).values("registered_with"))
        | Q(pk__in=JobTicket.objects.filter(wheel_pair__bike__rider__in=own).values("vendor"))
        | Q(pk__in=Fitting.objects.filter(wheel_pair__bike__rider__in=own).values("vendor"))
        | Q(pk__in=Entry.objects.filter(rider__in=own).values("day__event__organiser"))
    ).order_by("code", "id")


def oneself(by: Person, _at: datetime) -> QuerySet[Person]:
    """Return the person who asks, and nobody else."""
    return Person.objects.filter(pk=by.pk)


def lines(_by: Person, _at: datetime) -> QuerySet[TireLine]:
    """Return all tire lines; the catalogue is shared."""
    return TireLine.objects.order_by("maker", "name", "id")


def specs(_by: Person, _at: datetime) -> QuerySet[TireSpec]:
    """Return all specs; the catalogue is shared."""
    return TireSpec.objects.select_related("line").prefetch_related("pressure_specs").order_by("code", "id")


def pressure_specs(_by: Person, _at: datetime) -> QuerySet[PressureSpec]:
    """Return all published pressures; the catalogue is shared."""
    return PressureSpec.objects.select_related("line", "spec").order_by("line__maker", "line__name", "id")


def tracks(_by: Person, _at: datetime) -> QuerySet[Track]:
    """Return all tracks; they are public places."""
    return Track.objects.prefetch_related("layouts").order_by("code", "id")


def layouts(_by: Person, _at: datetime) -> QuerySet[Layout]:
    """Return all layouts of all tracks."""
    return Layout.objects.select_related("track").order_by("code", "id")


def riders(by: Person, _at: datetime) -> QuerySet[Rider]:
    """Return somebody's own rider record and those of their vendor's customers."""
    return Rider.objects.filter(own_or_served(by)).order_by("code", "id")


def bikes(by: Person, at: datetime) -> QuerySet[Bike]:
    """Return the bikes of those riders."""
    return (
        Bike.objects.filter(rider__in=riders(by, at).values("pk"))
        .select_related("rider")
        .order_by("code", "id")
    )


def wheel_pairs(by: Person, at: datetime) -> QuerySet[WheelPair]:
    """Return the wheel pairs of those riders."""
    return (
        WheelPair.objects.filter(bike__rider__in=riders(by, at).values("pk"))
        .select_related("bike__rider")
        .order_by("code", "id")
    )


def bikes_to_enter(by: Person, at: datetime) -> QuerySet[Bike]:
    """Return the bikes an organiser may enter: of riders registered there or entered in one of its events before."""
    own = organisations(by, Right.EDIT_EVENT)
    return Bike.objects.filter(
        Q(pk__in=bikes(by, at).values("pk"))
        | Q(rider__registered_with__in=own)
        | Q(rider__in=Entry.objects.filter(day__event__organiser__in=own).values("rider"))
    ).select_related("rider")


def instruments(by: Person, _at: datetime) -> QuerySet[Instrument]:
    """Return somebody's own gauges and those of the trailers they work at."""
    return Instrument.objects.filter(
        Q(rider__person=by) | Q(organisation__in=organisations(by, Right.TAKE_READINGS))
    ).order_by("code", "id")


def lots(by: Person, _at: datetime) -> QuerySet[Lot]:
    """Return the lots somebody may see."""
    return lots_for(by)


def tickets(by: Person, _at: datetime) -> QuerySet[JobTicket]:
    """Return the job tickets of somebody's vendors, the newest first."""
    return tickets_for(by).order_by("-opened_on", "-number", "id")


def tires(by: Person, at: datetime) -> QuerySet[Tire]:
    """Return the tires somebody may see today."""
    return tires_for(by, on=at.date())


def removals(by: Person, _at: datetime) -> QuerySet[Removal]:
    """Return the removals of the fittings somebody may see."""
    return (
        Removal.objects.filter(fitting__in=fittings_for(by).order_by().values("pk"))
        .select_related("fitting")
        .order_by("-removed_at", "id")
    )


def holds(by: Person, at: datetime) -> QuerySet[Hold]:
    """Return the holds on tires somebody may see, and those their own organisations placed."""
    placed_here = Q(placed_for__in=organisations(by, Right.HOLD)) | Q(
        placed_for__in=organisations(by, Right.FIT)
    )
    return (
        Hold.objects.filter(placed_here | Q(tire__in=tires(by, at).order_by().values("pk")))
        .select_related("tire__spec__line", "placed_for")
        .order_by("-placed_at", "id")
    )


def events(by: Person, _at: datetime) -> QuerySet[Event]:
    """Return the events somebody may see."""
    return events_for(by)


def days(by: Person, _at: datetime) -> QuerySet[Day]:
    """Return the days of those events."""
    return days_for(by)


def groups(by: Person, _at: datetime) -> QuerySet[Group]:
    """Return the pace groups of those events."""
    return (
        Group.objects.filter(event__in=events_for(by).values("pk"))
        .select_related("event")
        .order_by("event__code", "name", "id")
    )


def stints(by: Person, _at: datetime) -> QuerySet[Stint]:
    """Return the stints somebody may see."""
    return stints_for(by)


def temperatures(by: Person, _at: datetime) -> QuerySet[TemperatureReading]:
    """Return the tread temperatures of somebody's own tires, of stints shared with them, and those they took."""
    return (
        TemperatureReading.objects.filter(
            Q(tire__owner__person=by)
            | Q(stint__in=stints_for(by).order_by().values("pk"))
            | Q(stint__isnull=True, recorded_by=by)
        )
        .select_related("tire", "instrument")
        .order_by("-taken_at", "zone", "id")
    )


def feel_notes(by: Person, _at: datetime) -> QuerySet[FeelNote]:
    """Return the feel notes of the stints somebody may see."""
    return (
        FeelNote.objects.filter(stint__in=stints_for(by).order_by().values("pk"))
        .select_related("stint")
        .order_by("-stint__started_at", "feel", "id")
    )


def surface_notes(by: Person, _at: datetime) -> QuerySet[SurfaceNote]:
    """Return the surface notes of somebody's own tires and of those of their vendor's customers."""
    return (
        SurfaceNote.objects.filter(
            Q(tire__owner__person=by) | Q(tire__owner__in=riders_served(by).values("pk"))
        )
        .select_related("tire")
        .order_by("-seen_at", "id")
    )


def drafts(by: Person, _at: datetime) -> QuerySet[Guidance]:
    """Return the guidance computed for the days somebody may see."""
    return Guidance.objects.filter(day__in=days_for(by).order_by().values("pk"))
