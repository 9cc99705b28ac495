"""What somebody may name or list: one row source per noun, each narrowed to the person who asks.

Every one takes the person and the moment, so that input fields and views look rows up in the same way.
"""

from datetime import datetime

from django.db.models import Q, QuerySet

from fleet.accounts.models import Organisation, Person
from fleet.accounts.policy import Right, organisations
from fleet.catalogue.models import PressureSpec, ReferenceNote, TireLine, TireSpec
from fleet.catalogue.queries import notes_for
from fleet.events.models import Day, Entry, Event, Group, Layout, Track
from fleet.events.queries import days_for, entrants_for, events_for, open_to
from fleet.garage import queries as garage
from fleet.garage.models import Bike, Instrument, Rider, Sharing, WheelPair
from fleet.inventory.availability import reservations_for
from fleet.inventory.inspection import Inspection
from fleet.inventory.models import Fitting, Hold, JobTicket, Lot, RecallNotice, Removal, SidewallReading, Tire
from fleet.inventory.ownership import once_theirs, records_of, since_last_handed, theirs_then
from fleet.inventory.queries import (
    fittings_for,
    lots_for,
    masters_for,
    own_or_served,
    riders_served,
    tickets_for,
    with_wishes,
)
from fleet.inventory.reservation import Reservation
from fleet.life.affected import recalls_for
from fleet.life.queries import inspections_for, photos_for, tires_for, tires_told_whole
from fleet.photos.models import Photo
from fleet.pressures.models import Guidance
from fleet.running.models import (
    AdviceAnswer,
    CycleCorrection,
    FeelNote,
    Stint,
    SurfaceNote,
    TemperatureReading,
)
from fleet.running.queries import stints_for, surface_notes_for, taken_by
from fleet.trials.models import Run, Step, TireTest
from fleet.trials.queries import runs_for, steps_for, trials_for


def own_organisations(by: Person, _at: datetime) -> QuerySet[Organisation]:
    """Return the organisations somebody belongs to, and those that serve them or run events they entered."""
    own = Rider.objects.filter(person=by).values("pk")
    return Organisation.objects.filter(
        Q(pk__in=by.memberships.values("organisation"))
        | Q(pk__in=Rider.objects.filter(person=by).values("registered_with"))
        | Q(pk__in=JobTicket.objects.filter(wheel_pair__bike__rider__in=own).values("vendor"))
        | Q(pk__in=Fitting.objects.filter(wheel_pair__bike__rider__in=own).values("vendor"))
        | Q(pk__in=Reservation.objects.filter(rider__in=own, voided_at__isnull=True).values("vendor"))
        | Q(pk__in=Entry.objects.filter(rider__in=own).values("day__event__organiser"))
    ).order_by("code", "id")


def organisations_to_let_in(_by: Person, _at: datetime) -> QuerySet[Organisation]:
    """Return all organisations: a rider may let in any of them, whose names are no secret."""
    return Organisation.objects.order_by("code", "id")


def vendors(_by: Person, _at: datetime) -> QuerySet[Organisation]:
    """Return all vendors: a rider may reserve tires at any that sells them."""
    return Organisation.objects.filter(is_vendor=True).order_by("code", "id")


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


def reference_notes(by: Person, _at: datetime) -> QuerySet[ReferenceNote]:
    """Return the shared reference notes and those of organisations somebody tests for, the newest first."""
    return notes_for(by)


def tracks(_by: Person, _at: datetime) -> QuerySet[Track]:
    """Return all tracks; they are public places."""
    return Track.objects.prefetch_related("layouts").order_by("code", "id")


def layouts(_by: Person, _at: datetime) -> QuerySet[Layout]:
    """Return all layouts of all tracks."""
    return Layout.objects.select_related("track").order_by("code", "id")


def riders(by: Person, _at: datetime) -> QuerySet[Rider]:
    """Return somebody's own rider record, those of their vendor's customers, and their organisation's walk-ins."""
    walk_ins = Q(pk__in=garage.walk_ins_of(by).values("pk"))
    return Rider.objects.filter(own_or_served(by) | walk_ins).order_by("code", "id")


def riders_to_invite(by: Person, _at: datetime) -> QuerySet[Rider]:
    """Return the walk-ins of somebody's organisations who have no account yet."""
    return garage.riders_to_invite(by)


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
    """Return the bikes somebody may name to enter: their own, and those of riders their organisation knows.

    An organiser knows whom it registered, who shares with it, and who was entered in one of its events; whether they agreed
    to this one, the action asks.
    """
    own = organisations(by, Right.EDIT_EVENT)
    return Bike.objects.filter(
        Q(pk__in=bikes(by, at).values("pk"))
        | Q(rider__registered_with__in=own)
        | Q(rider__in=Sharing.objects.filter(organisation__in=own, withdrawn_at=None).values("rider"))
        | Q(rider__in=Entry.objects.filter(day__event__organiser__in=own).values("rider"))
    ).select_related("rider")


def instruments(by: Person, _at: datetime) -> QuerySet[Instrument]:
    """Return somebody's own gauges and those of the trailers they work at."""
    return Instrument.objects.filter(
        Q(rider__person=by) | Q(organisation__in=organisations(by, Right.TAKE_READINGS))
    ).order_by("code", "id")


def masters(by: Person, at: datetime) -> QuerySet[Instrument]:
    """Return the gauges somebody may compare with: those they may use, and those of vendors they are a customer of."""
    rider = garage.own_rider(by)
    near = masters_for(rider).order_by().values("pk") if rider else []
    return Instrument.objects.filter(Q(pk__in=instruments(by, at).order_by().values("pk")) | Q(pk__in=near))


def lots(by: Person, _at: datetime) -> QuerySet[Lot]:
    """Return the lots somebody may see."""
    return lots_for(by)


def reservations(by: Person, _at: datetime) -> QuerySet[Reservation]:
    """Return somebody's own reservations and those at their vendors."""
    return reservations_for(by)


def tickets(by: Person, _at: datetime) -> QuerySet[JobTicket]:
    """Return the job tickets of somebody's vendors and those of their own wheels, the newest first."""
    seen = Q(wheel_pair__bike__rider__person=by) | Q(pk__in=tickets_for(by).order_by().values("pk"))
    return with_wishes(JobTicket.objects.filter(seen)).order_by("-opened_on", "-number", "id")


def tires(by: Person, at: datetime) -> QuerySet[Tire]:
    """Return the tires somebody may see today."""
    return tires_for(by, on=at.date())


def own_tires(by: Person, at: datetime) -> QuerySet[Tire]:
    """Return somebody's own tires."""
    return tires_for(by, on=at.date()).filter(owner__person=by)


def tires_to_measure(by: Person, at: datetime) -> QuerySet[Tire]:
    """Return those tires, and the ones of riders who open them to an organisation somebody tests for."""
    seen = Q(pk__in=tires(by, at).order_by().values("pk"))
    return Tire.objects.filter(seen | Q(owner__in=garage.riders_opened(by).values("pk")))


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
        Hold.objects.filter(
            placed_here
            | Q(tire__in=tires(by, at).order_by().values("pk")) & since_last_handed("placed_at")
            | once_theirs(records_of(by), "placed_at")
        )
        .select_related("tire__spec__line", "placed_for")
        .order_by("-placed_at", "id")
    )


def inspections(by: Person, at: datetime) -> QuerySet[Inspection]:
    """Return what was found on the tires whose story somebody may read, and what their own organisation's inspectors found."""
    return inspections_for(by, on=at.date()).select_related("tire", "inspected_for")


def photos(by: Person, at: datetime) -> QuerySet[Photo]:
    """Return the photos of the facts somebody may read."""
    return photos_for(by, on=at.date())


def recalls(by: Person, _at: datetime) -> QuerySet[RecallNotice]:
    """Return the recall notices somebody may read."""
    return recalls_for(by)


def sidewalls(by: Person, at: datetime) -> QuerySet[SidewallReading]:
    """Return what was read off the sidewalls of the tires whose story somebody may read: it tells their age."""
    whole = tires_told_whole(by, on=at.date()).order_by().values("pk")
    return SidewallReading.objects.filter(tire__in=whole).order_by("-read_at", "id")


def riders_to_tell(by: Person, at: datetime) -> QuerySet[Rider]:
    """Return the customers and entrants of somebody's organisations, whom a recall may touch."""
    return Rider.objects.filter(
        Q(pk__in=riders_served(by).values("pk")) | Q(pk__in=entrants_for(by, on=at.date()).values("pk"))
    )


def events(by: Person, at: datetime) -> QuerySet[Event]:
    """Return the events somebody may see, and to who rides those that take entries."""
    open_now = open_to(by, at=at).order_by().values("event")
    seen = events_for(by).order_by().values("pk")
    return (
        Event.objects.filter(Q(pk__in=seen) | Q(pk__in=open_now))
        .select_related("organiser")
        .order_by("code", "id")
    )


def days(by: Person, at: datetime) -> QuerySet[Day]:
    """Return the days of the events somebody may see, and to who rides the coming ones of those that take entries."""
    seen, open_now = days_for(by).order_by().values("pk"), open_to(by, at=at).order_by().values("pk")
    return (
        Day.objects.filter(Q(pk__in=seen) | Q(pk__in=open_now))
        .select_related("event__organiser", "layout__track")
        .order_by("date", "event__code", "id")
    )


def groups(by: Person, at: datetime) -> QuerySet[Group]:
    """Return the pace groups of those events."""
    return (
        Group.objects.filter(event__in=events(by, at).order_by().values("pk"))
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
            theirs_then(records_of(by), "taken_at")
            | Q(stint__in=stints_for(by).order_by().values("pk"))
            | (taken_by(by) & Q(stint__isnull=True))
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


def advice_answers(by: Person, _at: datetime) -> QuerySet[AdviceAnswer]:
    """Return what was said of the advice after the stints somebody may see."""
    return (
        AdviceAnswer.objects.filter(stint__in=stints_for(by).order_by().values("pk"))
        .select_related("stint__wheel_pair__bike__rider")
        .order_by("-stint__started_at", "-recorded_at", "id")
    )


def cycle_corrections(by: Person, _at: datetime) -> QuerySet[CycleCorrection]:
    """Return the stints that somebody said did not warm their own tires through."""
    return (
        CycleCorrection.objects.filter(stint__wheel_pair__bike__rider__person=by)
        .select_related("tire__owner", "stint__wheel_pair__bike__rider")
        .order_by("-stint__started_at", "id")
    )


def surface_notes(by: Person, _at: datetime) -> QuerySet[SurfaceNote]:
    """Return the surface notes of somebody's own tires, of their vendor's customers' and of those opened to them."""
    return surface_notes_for(by)


def drafts(by: Person, _at: datetime) -> QuerySet[Guidance]:
    """Return the guidance computed for the days somebody may see."""
    return Guidance.objects.filter(day__in=days_for(by).order_by().values("pk"))


def bikes_to_test(by: Person, at: datetime) -> QuerySet[Bike]:
    """Return the bikes somebody may name in a test: those they see anyway, and those opened to them."""
    seen = Q(rider__in=riders(by, at).values("pk")) | Q(rider__in=garage.riders_opened(by).values("pk"))
    return Bike.objects.filter(seen).select_related("rider").order_by("code", "id")


def wheel_pairs_to_test(by: Person, at: datetime) -> QuerySet[WheelPair]:
    """Return the wheel pairs of those bikes."""
    seen = bikes_to_test(by, at).order_by().values("pk")
    return WheelPair.objects.filter(bike__in=seen).select_related("bike__rider").order_by("code", "id")


def tire_tests(by: Person, _at: datetime) -> QuerySet[TireTest]:
    """Return the tests of organisations somebody tests for, and those of their own bikes."""
    return trials_for(by)


def steps_of_tests(by: Person, _at: datetime) -> QuerySet[Step]:
    """Return the steps of those tests."""
    return steps_for(by)


def runs_of_tests(by: Person, _at: datetime) -> QuerySet[Run]:
    """Return the runs of those tests, as far as their rider opens them."""
    return runs_for(by)
