"""Writes of tires that change hands: offered by a link, taken back, accepted or declined."""

import secrets
from datetime import datetime, timedelta
from typing import Any, Final

from django.db import transaction

from fleet.accounts.digests import digest_of
from fleet.accounts.models import Person, What
from fleet.accounts.policy import Actor, require_service
from fleet.accounts.trail import note, note_made
from fleet.celery import wake
from fleet.errors import Conflict
from fleet.garage.models import Rider
from fleet.garage.queries import require_garage, require_owner
from fleet.inventory.actions.available import check_available
from fleet.inventory.errors import HandedOver, InUse, Recalled, TireOnHold
from fleet.inventory.handover import Handover
from fleet.inventory.models import JobTicket, TicketWish, Tire
from fleet.inventory.ownership import held_since, standing_offer
from fleet.inventory.queries import is_on_hold
from fleet.inventory.recalls import recalls_of
from fleet.inventory.revisions import ASSESS, DRAFT, TELL_RECALLED, hold_still, touch
from fleet.records import save_changes, store

OFFER_HOLDS: Final = timedelta(days=7)


@transaction.atomic
def offer_tire(*, by: Person, at: datetime, tire: Tire) -> tuple[Handover, str]:
    """Return an offer of a tire of one's own with its secret, which is not stored; one made earlier ends."""
    require_owner(by, tire.owner)
    hold_still(tire.pk)
    tire.refresh_from_db(fields=["owner"])
    require_owner(by, tire.owner)
    _check_free(tire, at)
    _end_open(tire, by=by, at=at)
    token = secrets.token_urlsafe(32)
    offer = store(
        Handover(
            tire=tire,
            giver=tire.owner,
            held_since=held_since(tire),
            digest=digest_of(token),
            offered_at=at,
            expires_at=at + OFFER_HOLDS,
        )
    )
    note_made(offer, "tire", "expires_at", by=by, rider=tire.owner_id)
    return offer, token


@transaction.atomic
def withdraw_offer(*, by: Actor, at: datetime, offer: Handover) -> None:
    """End an offer at once; one that was answered or ended before stays as it is."""
    require_owner(by, offer.giver)
    _end(offer, by=by, at=at)


@transaction.atomic
def decline_tire(*, by: Person, at: datetime, token: str) -> Handover:
    """Say no to a tire; nothing of who declined is kept but the line in the trail."""
    offer = standing_offer(digest_of(token), at=at)
    _refuse_giver(by, offer)
    standing = Handover.objects.filter(pk=offer.pk, handed_at=None, withdrawn_at=None, declined_at=None)
    if standing.update(declined_at=at):
        note(offer, What.WITHDRAWN, by=by, after={"declined_at": at}, rider=offer.giver_id)
    offer.refresh_from_db(fields=["declined_at"])
    return offer


@transaction.atomic
def accept_tire(*, by: Person, at: datetime, token: str) -> Handover:
    """Take a tire over: it is the taker's from now on, with all it ran; what the giver logged stays the giver's."""
    taker = require_garage(by)
    offer = standing_offer(digest_of(token), at=at)
    _refuse_giver(by, offer)
    hold_still(offer.tire_id)
    offer = standing_offer(digest_of(token), at=at)  # two may follow one link at once
    _check_free(offer.tire, at)
    offer.taker, offer.handed_at = taker, at
    save_changes(offer, "taker", "handed_at")
    return _give(offer, by=by)


@transaction.atomic
def hand_over(*, by: Actor, at: datetime, tire: Tire, giver: Rider, taker: Rider) -> Handover:
    """Store a handover both agreed to elsewhere, such as one of an exchange folder; nobody has a link to it."""
    require_service(by)
    hold_still(tire.pk)
    if tire.owner_id != giver.pk:
        raise HandedOver("This tire is not the giver's at that time: check who had it before.", field="giver")
    _refuse_mounted(tire)
    offer = store(
        Handover(
            tire=tire,
            giver=giver,
            held_since=held_since(tire),
            digest=digest_of(secrets.token_urlsafe(32)),
            offered_at=at,
            expires_at=at,
            taker=taker,
            handed_at=at,
        )
    )
    return _give(offer, by=by)


def _give(offer: Handover, *, by: Actor) -> Handover:
    tire, taker = offer.tire, offer.taker
    assert taker is not None  # noqa: S101 -- both callers set it
    tire.owner = taker
    save_changes(tire, "owner")
    told: dict[str, Any] = {"handed_at": offer.handed_at}
    note(tire, What.MOVED, by=by, after=told, rider=offer.giver_id)
    note(tire, What.CLAIMED, by=by, after=told, rider=taker.pk)
    touch(tire.pk)
    wake(ASSESS, DRAFT, TELL_RECALLED)
    return offer


def _refuse_giver(by: Person, offer: Handover) -> None:
    if offer.giver.person_id == by.pk:
        raise Conflict("This tire is yours: give the link to the rider who takes it over.")


def _check_free(tire: Tire, at: datetime) -> None:
    """Refuse a tire that is in use, waits at a trailer to be fitted, must not be used, or was scrapped."""
    _refuse_mounted(tire)
    wished = TicketWish.objects.filter(own_tire=tire).exclude(ticket__state=JobTicket.State.COLLECTED)
    if wished.exists():
        raise InUse("This tire waits at a trailer to be fitted: collect the wheels first.", field="tire")
    if is_on_hold(tire):
        raise TireOnHold(
            "This tire is on hold and is not handed over: ask who placed the hold to lift it.", field="tire"
        )
    for recall in recalls_of([tire.pk]).get(tire.pk, ()):
        raise Recalled(f"{recall} It is not handed over while the notice stands.", field="tire")
    check_available(tire, at)


def _refuse_mounted(tire: Tire) -> None:
    if tire.fittings.filter(removed_at__isnull=True, voided_at__isnull=True).exists():
        raise InUse("This tire is on a wheel: take it off first, then hand it over.", field="tire")


def _end_open(tire: Tire, *, by: Actor, at: datetime) -> None:
    for offer in tire.handovers.filter(handed_at=None, withdrawn_at=None, declined_at=None):
        _end(offer, by=by, at=at)


def _end(offer: Handover, *, by: Actor, at: datetime) -> None:
    standing = Handover.objects.filter(pk=offer.pk, handed_at=None, withdrawn_at=None, declined_at=None)
    if standing.update(withdrawn_at=at):
        note(offer, What.WITHDRAWN, by=by, rider=offer.giver_id)
