"""Writes of riders, bikes, wheel pairs and instruments, permissions and invitations."""

import secrets
from datetime import date, datetime, timedelta
from typing import Final, Unpack

from django.db import IntegrityError, transaction

from fleet.accounts.digests import digest_of
from fleet.accounts.models import Organisation, Person, What
from fleet.accounts.policy import Actor, Right, Service, require
from fleet.accounts.queries import is_program
from fleet.accounts.trail import Owners, kept_by, note, note_made, values_of
from fleet.errors import Conflict, Invalid, NotAllowed
from fleet.garage.errors import HasAnAccount, RidesAlready
from fleet.garage.models import Bike, Instrument, Invitation, Rider, Sharing, WheelPair
from fleet.garage.queries import own_rider, owns, require_owner, standing_invitation
from fleet.records import save_changes, store

INVITATION_HOLDS: Final = timedelta(days=14)


@transaction.atomic
def register_rider(
    *,
    by: Actor,
    code: str,
    name: str,
    contact: str = "",
    registered_with: Organisation | None = None,
    person: Person | None = None,
) -> Rider:
    """Store a rider: somebody's own record, or a walk-in by the crew of a vendor or an organiser."""
    crew = None
    if not isinstance(by, Service) and person != by:
        require(by, Right.REGISTER, registered_with)
        person, crew = None, registered_with
    if person is not None and is_program(person):
        raise NotAllowed(
            "A key of an organisation is nobody who rides: register riders with the organisation."
        )
    rider = store(
        Rider(code=code, name=name, contact=contact, registered_with=registered_with, person=person)
    )
    return note_made(rider, by=by, rider=rider.pk, organisation=registered_with, on_behalf_of=crew)


def open_garage(*, by: Person) -> Rider:
    """Return somebody's own rider record, begun with their name where there is none yet."""
    if found := own_rider(by):
        return found
    try:
        return register_rider(by=by, code=f"r-{secrets.token_hex(6)}", name=by.name, person=by)
    except (Conflict, Invalid):  # the same person, on another page at the same moment
        if found := own_rider(by):
            return found
        raise


@transaction.atomic
def add_bike(
    *,
    by: Actor,
    rider: Rider,
    code: str,
    description: str,
    wheelbase_mm: float | None = None,
    rake_deg: float | None = None,
    fork_offset_mm: float | None = None,
    front_rim_in: float | None = None,
    rear_rim_in: float | None = None,
) -> Bike:
    """Store a bike of a rider."""
    crew = _crew_or_owner(by, rider)
    bike = store(
        Bike(
            rider=rider,
            code=code,
            description=description,
            wheelbase_mm=wheelbase_mm,
            rake_deg=rake_deg,
            fork_offset_mm=fork_offset_mm,
            front_rim_in=front_rim_in,
            rear_rim_in=rear_rim_in,
        )
    )
    return note_made(bike, by=by, **kept_by(crew, rider=rider.pk))


@transaction.atomic
def add_wheel_pair(*, by: Actor, bike: Bike, code: str, name: str, is_in_use: bool = True) -> WheelPair:
    """Store a wheel pair; one put in use puts the bike's other pair aside."""
    crew = _crew_or_owner(by, bike.rider)
    owners = kept_by(crew, rider=bike.rider_id)
    if is_in_use:
        _put_aside(bike, by=by, **owners)
    pair = store(WheelPair(bike=bike, code=code, name=name, is_in_use=is_in_use))
    return note_made(pair, by=by, **owners)


@transaction.atomic
def use_wheel_pair(*, by: Actor, wheel_pair: WheelPair) -> WheelPair:
    """Put a wheel pair on its bike and the bike's other pair aside."""
    require_owner(by, wheel_pair.bike.rider)
    rider = wheel_pair.bike.rider_id
    _put_aside(wheel_pair.bike, by=by, rider=rider)
    wheel_pair.is_in_use = True
    save_changes(wheel_pair, "is_in_use")
    note(wheel_pair, What.TAKEN_INTO_USE, by=by, rider=rider)
    return wheel_pair


@transaction.atomic
def add_instrument(
    *,
    by: Actor,
    code: str,
    name: str,
    kind: str,
    rider: Rider | None = None,
    organisation: Organisation | None = None,
    step_kpa: float | None = None,
    offset_kpa: float = 0.0,
    compared_on: date | None = None,
) -> Instrument:
    """Store a gauge of a rider or of an organisation, with how far it reads off."""
    if rider is not None:
        require_owner(by, rider)
    else:
        require(by, Right.TAKE_READINGS, organisation)
    instrument = store(
        Instrument(
            code=code,
            name=name,
            kind=kind,
            rider=rider,
            organisation=organisation,
            step_kpa=step_kpa,
            offset_kpa=offset_kpa,
            compared_on=compared_on,
        )
    )
    return note_made(instrument, by=by, **kept_by(organisation, rider=rider.pk if rider else None))


@transaction.atomic
def share(*, by: Actor, rider: Rider, organisation: Organisation, scope: str, at: datetime) -> Sharing:
    """Let an organisation see something of a rider's."""
    require_owner(by, rider)
    sharing = store(Sharing(rider=rider, organisation=organisation, scope=scope, granted_at=at))
    return note_made(sharing, by=by, what=What.GRANTED, rider=rider.pk, organisation=organisation)


@transaction.atomic
def take_back(*, by: Actor, sharing: Sharing, at: datetime) -> Sharing:
    """End a permission at once; one taken back before keeps its first moment."""
    require_owner(by, sharing.rider)
    if Sharing.objects.filter(pk=sharing.pk, withdrawn_at__isnull=True).update(withdrawn_at=at):
        owners: Owners = {"rider": sharing.rider_id, "organisation": sharing.organisation}
        note(sharing, What.TAKEN_BACK, by=by, after={"withdrawn_at": at}, **owners)
    sharing.refresh_from_db()
    return sharing


@transaction.atomic
def invite(*, by: Person, at: datetime, rider: Rider) -> tuple[Invitation, str]:
    """Return a walk-in's invitation with its secret, which is not stored; one made earlier ends."""
    require(by, Right.INVITE, rider.registered_with)
    held = Rider.objects.select_for_update(no_key=True).get(pk=rider.pk)  # two may invite at once
    if held.person_id is not None:
        raise HasAnAccount(f"{rider} has an account already: nothing is left to claim.")
    _end_invitations(rider, by=by, at=at)
    token = secrets.token_urlsafe(32)
    ends = at + INVITATION_HOLDS
    made = store(Invitation(rider=rider, digest=digest_of(token), made_by=by, made_at=at, expires_at=ends))
    note_made(made, "rider", "expires_at", by=by, **_inviting(rider))
    return made, token


@transaction.atomic
def revoke_invitation(*, by: Person, at: datetime, invitation: Invitation) -> None:
    """End an invitation at once; one that was used or ended before stays as it is."""
    require(by, Right.INVITE, invitation.rider.registered_with)
    _end_invitation(invitation, by=by, at=at)


@transaction.atomic
def claim_record(*, by: Person, at: datetime, token: str) -> Rider:
    """Give a walk-in's record to the person who followed the invitation; a garage of theirs with nothing in it goes."""
    invitation = standing_invitation(token, at=at)
    rider, own = invitation.rider, own_rider(by)
    if own is not None and not _is_empty(own):
        raise RidesAlready(
            "You have a garage with bikes, tires or permissions of its own: ask those who run the service to join both."
        )
    if own is not None:
        note(own, What.DELETED, by=by, before=values_of(own), rider=own.pk, person=by)
        own.delete()
    try:
        with transaction.atomic():
            taken = Rider.objects.filter(pk=rider.pk, person__isnull=True).update(person=by)
    except IntegrityError as error:
        raise RidesAlready("You claimed another record at the same moment: look at your garage.") from error
    used = Invitation.objects.filter(pk=invitation.pk, claimed_at__isnull=True, revoked_at__isnull=True)
    if not taken or not used.update(claimed_at=at, claimed_by=by):
        raise HasAnAccount("Somebody else followed this invitation just now: ask where you got it.")
    note(rider, What.CLAIMED, by=by, after={"person": by.pk}, **_inviting(rider) | {"on_behalf_of": None})
    rider.refresh_from_db()
    return rider


def _put_aside(bike: Bike, *, by: Actor, **owners: Unpack[Owners]) -> None:
    Bike.objects.select_for_update(no_key=True).get(pk=bike.pk)  # two may put two pairs in use at once
    for pair in bike.wheel_pairs.filter(is_in_use=True):
        pair.is_in_use = False
        save_changes(pair, "is_in_use")
        note(pair, What.PUT_ASIDE, by=by, **owners)


def _end_invitations(rider: Rider, *, by: Person, at: datetime) -> None:
    for open_one in rider.invitations.filter(claimed_at__isnull=True, revoked_at__isnull=True):
        _end_invitation(open_one, by=by, at=at)


def _end_invitation(invitation: Invitation, *, by: Person, at: datetime) -> None:
    standing = Invitation.objects.filter(pk=invitation.pk, claimed_at__isnull=True, revoked_at__isnull=True)
    if standing.update(revoked_at=at):
        note(invitation, What.REVOKED, by=by, **_inviting(invitation.rider))


def _inviting(rider: Rider) -> Owners:
    return kept_by(rider.registered_with, rider=rider.pk)


def _is_empty(rider: Rider) -> bool:
    """Return whether nothing anywhere refers to a rider."""
    return not any(
        relation.related_model._base_manager.filter(**{relation.field.name: rider}).exists()  # noqa: SLF001 -- documented
        for relation in rider._meta.related_objects  # noqa: SLF001 -- Django documents it
    )


def _crew_or_owner(by: Actor, rider: Rider) -> Organisation | None:
    """Return the organisation whose crew writes about a rider, nothing where the rider does; refuse anybody else.

    An organiser's crew writes about walk-ins; whoever has an account is served at the trailer alone.
    """
    if owns(by, rider):
        return None
    require(by, Right.REGISTER if rider.person_id is None else Right.FIT, rider.registered_with)
    return rider.registered_with
