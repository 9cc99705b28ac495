"""Roles: offered by those who look after an organisation's people, taken by whoever follows the link, ended."""

import secrets
from datetime import datetime, timedelta
from typing import Final

from django.db import transaction

from fleet.accounts.digests import digest_of
from fleet.accounts.errors import LastManager, OfferOver
from fleet.accounts.models import Membership, Organisation, Person, Role, RoleOffer, What
from fleet.accounts.policy import Right, require, roles_to_give, roles_with
from fleet.accounts.queries import standing_offer
from fleet.accounts.trail import kept_by, note, note_made, values_of
from fleet.errors import NotAllowed
from fleet.records import store

OFFER_HOLDS: Final = timedelta(days=7)


@transaction.atomic
def offer_role(
    *, by: Person, at: datetime, organisation: Organisation, role: str, meant_for: str
) -> tuple[RoleOffer, str]:
    """Return the offer of a role with its secret, which is not stored."""
    _require_to_give(by, organisation, role)
    token = secrets.token_urlsafe(32)
    offer = RoleOffer(
        organisation=organisation,
        role=role,
        meant_for=meant_for.strip(),
        digest=digest_of(token),
        made_by=by,
        made_at=at,
        expires_at=at + OFFER_HOLDS,
    )
    return note_made(store(offer), by=by, **kept_by(organisation)), token


@transaction.atomic
def withdraw_offer(*, by: Person, at: datetime, offer: RoleOffer) -> None:
    """End an offer at once; one that was taken or withdrawn before stays as it is."""
    _require_to_give(by, offer.organisation, offer.role)
    waiting = RoleOffer.objects.filter(pk=offer.pk, taken_at__isnull=True, withdrawn_at__isnull=True)
    if waiting.update(withdrawn_at=at):
        note(offer, What.WITHDRAWN, by=by, **kept_by(offer.organisation))


@transaction.atomic
def take_role(*, by: Person, at: datetime, token: str) -> Membership:
    """Give the offered role to whoever followed the link, if the one who offered it still may."""
    offer = standing_offer(token, at=at)
    if Membership.objects.filter(person=by, organisation=offer.organisation, role=offer.role).exists():
        raise OfferOver(f"You are {offer} already: this link is meant for somebody else.")
    waiting = RoleOffer.objects.filter(pk=offer.pk, taken_at__isnull=True, withdrawn_at__isnull=True)
    if not waiting.update(taken_at=at, taken_by=by):
        raise OfferOver("Somebody else followed this link just now: ask where you got it for a new one.")
    membership = store(Membership(person=by, organisation=offer.organisation, role=Role(offer.role)))
    return note_made(membership, by=by, what=What.GRANTED, person=by, organisation=offer.organisation)


@transaction.atomic
def end_role(*, by: Person, membership: Membership) -> None:
    """End a role at once, one's own or one that somebody may give; somebody who gives roles always stays."""
    organisation = membership.organisation
    Organisation.objects.select_for_update(no_key=True).get(
        pk=organisation.pk
    )  # two may end each other's role
    if membership.person_id != by.pk:
        _require_to_give(by, organisation, membership.role)
    managers = organisation.memberships.filter(role__in=roles_with(Right.MANAGE_PEOPLE))
    if managers.filter(pk=membership.pk).exists() and not managers.exclude(pk=membership.pk).exists():
        raise LastManager(
            f"Nobody else at {organisation} could give roles any more: give somebody the role "
            f"{membership.get_role_display().lower()} first."
        )
    ended, _ = organisation.memberships.filter(pk=membership.pk).delete()
    if ended:
        owners = {"person": membership.person} | kept_by(organisation)
        note(membership, What.TAKEN_BACK, by=by, before=values_of(membership), **owners)


def _require_to_give(by: Person, organisation: Organisation, role: str) -> None:
    require(by, Right.MANAGE_PEOPLE, organisation)
    if role not in roles_to_give(by, organisation):
        raise NotAllowed(
            f"Your role at {organisation} does not give or end this one: ask somebody there who may, or those who run "
            "the service."
        )
