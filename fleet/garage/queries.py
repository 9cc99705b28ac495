"""Reads of riders and what they own."""

import uuid
from collections.abc import Iterable
from datetime import date, datetime, timedelta
from typing import Final

from django.db.models import F, Q, QuerySet

from fleet.accounts.digests import digest_of
from fleet.accounts.models import Membership, Organisation, Person
from fleet.accounts.policy import Actor, Right, Service, author, may, organisations, roles_with
from fleet.errors import NotAllowed, NotFound
from fleet.garage.comparison import GaugeComparison
from fleet.garage.models import Instrument, Invitation, Rider, Sharing

COMPARISON_HOLDS: Final = timedelta(days=365)  # common practice, no published source: at least once a year


def own_rider(by: Actor) -> Rider | None:
    """Return the rider record of the person who asks, where there is one."""
    return None if isinstance(by, Service) else Rider.objects.filter(person=by).first()


def require_garage(by: Person) -> Rider:
    """Return the rider record of the person who asks; whoever has none is told how to get one."""
    rider = own_rider(by)
    if rider is None:
        raise NotAllowed("You have no rider record: open a garage, or add a bike of your own, first.")
    return rider


def owns(by: Actor, rider: Rider) -> bool:
    """Return whether somebody is this rider, or the service itself."""
    return isinstance(by, Service) or rider.person_id == by.pk


def require_owner(by: Actor, rider: Rider) -> None:
    """Refuse anybody but the rider."""
    if not owns(by, rider):
        raise NotFound("There is no such rider for you: riders change only their own things.")


def riders_opened(by: Person) -> QuerySet[Rider]:
    """Return the riders whose bikes somebody may test: those who share with an organisation, or test for it themselves."""
    houses = organisations(by, Right.RUN_TESTS).values("pk")
    shared = Sharing.objects.filter(
        organisation__in=houses, scope=Sharing.Scope.STINTS, withdrawn_at__isnull=True
    )
    testing = Membership.objects.filter(organisation__in=houses, role__in=roles_with(Right.RUN_TESTS))
    return Rider.objects.filter(Q(pk__in=shared.values("rider")) | Q(person__in=testing.values("person")))


def opens_to(rider: Rider, organisation: Organisation) -> bool:
    """Return whether a rider opens bikes and stints to an organisation's testers: by a sharing, or as one of them."""
    shared = Sharing.objects.filter(
        rider=rider, organisation=organisation, scope=Sharing.Scope.STINTS, withdrawn_at__isnull=True
    )
    testing = Membership.objects.filter(
        person=rider.person_id, organisation=organisation, role__in=roles_with(Right.RUN_TESTS)
    )
    return shared.exists() or (rider.person_id is not None and testing.exists())


def sharings_of(rider: Rider) -> QuerySet[Sharing]:
    """Return the permissions a rider gives at present."""
    return (
        Sharing.objects.filter(rider=rider, withdrawn_at__isnull=True)
        .select_related("organisation")
        .order_by("organisation__name")
    )


def sharings_for(by: Person) -> QuerySet[Sharing]:
    """Return all permissions somebody gave, and the standing ones that open stints to an organisation they test for."""
    given = Q(rider__person=by)
    opened = Q(
        organisation__in=organisations(by, Right.READ_SHARED_STINTS),
        scope=Sharing.Scope.STINTS,
        withdrawn_at__isnull=True,
    )
    rows = Sharing.objects.filter(given | opened)
    return rows.select_related("organisation", "rider").order_by("-granted_at", "id")


def own_gauges(riders: Iterable[uuid.UUID]) -> dict[uuid.UUID, Instrument]:
    """Return each rider's pressure gauge, the one compared last where there are several."""
    gauges = Instrument.objects.filter(kind=Instrument.Kind.PRESSURE, rider__in=set(riders))
    ordered = gauges.order_by(F("compared_on").asc(nulls_first=True), "id")
    return {gauge.rider_id: gauge for gauge in ordered if gauge.rider_id}


def gauges_of(organisation: Organisation) -> QuerySet[Instrument]:
    """Return an organisation's pressure gauges, the one compared last on top."""
    gauges = Instrument.objects.filter(kind=Instrument.Kind.PRESSURE, organisation=organisation)
    return gauges.order_by(F("compared_on").desc(nulls_last=True), "name", "id")


def comparisons_for(by: Actor) -> QuerySet[GaugeComparison]:
    """Return the comparisons of somebody's own gauges and of those of the trailers they work at, the newest first."""
    seen = Q(instrument__rider__person=author(by), instrument__rider__isnull=False)
    seen |= Q(instrument__organisation__in=organisations(by, Right.TAKE_READINGS))
    rows = GaugeComparison.objects.select_related("instrument__rider", "instrument__organisation", "master")
    return rows.filter(seen).order_by("-compared_at", "id")


def is_old_comparison(gauge: Instrument, *, on: date) -> bool:
    """Return whether a gauge was never compared with a better one, or too long ago to be relied on."""
    return gauge.compared_on is None or on - gauge.compared_on > COMPARISON_HOLDS


def standing_invitation(token: str, *, at: datetime) -> Invitation:
    """Return the invitation a link stands for; one used, revoked, over or never made is refused in the same words.

    It stands only as long as whoever made it may invite: a role that ended hands no record on.
    """
    invitation = (
        Invitation.objects.filter(
            digest=digest_of(token),
            claimed_at__isnull=True,
            revoked_at__isnull=True,
            expires_at__gt=at,
            rider__person__isnull=True,
            made_by__is_active=True,
        )
        .select_related("rider__registered_with", "made_by")
        .first()
    )
    house = invitation.rider.registered_with if invitation else None
    if invitation is None or house is None or not may(invitation.made_by, Right.INVITE, house):
        raise NotFound("This invitation was used or is over: ask where you got it for a new one.")
    return invitation


def walk_ins_of(by: Actor) -> QuerySet[Rider]:
    """Return the riders without an account whom somebody's organisations registered."""
    return Rider.objects.filter(person__isnull=True, registered_with__in=organisations(by, Right.REGISTER))


def riders_to_invite(by: Actor) -> QuerySet[Rider]:
    """Return the walk-ins of somebody's organisations who have no account yet."""
    return Rider.objects.filter(
        person__isnull=True, registered_with__in=organisations(by, Right.INVITE)
    ).select_related("registered_with")


def open_invitations(by: Actor, *, at: datetime) -> QuerySet[Invitation]:
    """Return the invitations that wait to be followed, those that end first on top."""
    return (
        Invitation.objects.filter(
            rider__in=riders_to_invite(by).values("pk"),
            claimed_at__isnull=True,
            revoked_at__isnull=True,
            expires_at__gt=at,
        )
        .select_related("rider__registered_with", "made_by")
        .order_by("expires_at", "id")
    )


def invitations_for(by: Actor) -> QuerySet[Invitation]:
    """Return the invitations that somebody's organisations made, also those used or over, the newest first."""
    return (
        Invitation.objects.filter(rider__registered_with__in=organisations(by, Right.INVITE))
        .select_related("rider__registered_with")
        .order_by("-made_at", "id")
    )
