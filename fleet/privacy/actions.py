"""Taking out and erasing what is held about somebody."""

from datetime import datetime
from typing import IO, Final

from django.db import transaction
from django.db.models import Q

from fleet.accounts.actions import close_account
from fleet.accounts.models import Membership, Organisation, Person, Role, RoleOffer, What
from fleet.accounts.policy import Actor
from fleet.accounts.trail import note
from fleet.celery import wake
from fleet.garage.models import Rider
from fleet.inventory.models import JobTicket
from fleet.inventory.revisions import DRAFT
from fleet.privacy.archive import write_archive
from fleet.privacy.erasing import (
    blank_trail,
    codes_of,
    end_offers,
    end_reservations,
    end_sharings,
    forget_told,
    names_of,
    rename_levels,
    search_replies,
    search_words,
    take_photos,
    take_words,
    withdraw_coming_entries,
)
from fleet.privacy.errors import LastInCharge, WheelsAtTheTrailer
from fleet.privacy.holder import Holder, holder_for
from fleet.privacy.sent_lists import search_sent_lists

IN_CHARGE: Final = (Role.DIRECTOR, Role.STOCK_MANAGER)


def take_out(*, by: Actor, at: datetime, file: IO[bytes], rider: Rider | None = None) -> None:
    """Write everything held about the one who asks, or for the service about a rider, as a zip archive."""
    holder = holder_for(by, rider=rider)
    write_archive(file, holder, at=at)
    with transaction.atomic():
        note(holder.record, What.TAKEN_OUT, by=by, **holder.owners)


@transaction.atomic
def erase(*, by: Actor, at: datetime, rider: Rider | None = None) -> None:
    """Erase what is personal of the one who asks, or for the service of a rider, for good.

    The account is closed, names, codes and words go; tire and safety facts stay with their figures, of nobody's.
    """
    holder = _locked(holder_for(by, rider=rider))
    _refuse_unsettled(holder)
    marks, codes = names_of(holder), codes_of(holder.rider)
    offers = [*RoleOffer.objects.filter(taken_by__in=holder.people).values_list("pk", flat=True)]
    if holder.rider is not None:
        withdraw_coming_entries(holder.rider, by=by, at=at)
        end_reservations(holder.rider, by=by, at=at)
        end_offers(holder.rider, by=by, at=at)
        end_sharings(holder.rider, by=by, at=at)
        take_words(holder.rider)
        take_photos(holder.rider)
        rename_levels(codes)
        search_replies({*codes, holder.rider.name, holder.rider.contact})
        note(holder.rider, What.ERASED, by=by, **holder.owners)
    if holder.person is not None:
        forget_told(holder.person)
        search_replies({holder.person.email, holder.person.name})
        close_account(by=by, at=at, person=holder.person)
    blank_trail(holder, offers=offers)
    search_words(marks)
    search_sent_lists(marks, holder.rider)
    wake(DRAFT)


def _locked(holder: Holder) -> Holder:
    """Return the same human being, their rows locked: a second erasure at the same moment waits for the first."""
    return Holder(
        holder.people.select_for_update().first(),
        holder.riders.select_for_update().select_related(None).first(),
    )


def _refuse_unsettled(holder: Holder) -> None:
    held = Membership.objects.filter(person__in=holder.people, role__in=IN_CHARGE)
    houses = Organisation.objects.filter(pk__in=held.values("organisation")).order_by("pk")
    list(houses.select_for_update(no_key=True))  # two in charge of one may leave at the same moment
    for membership in held.select_related("organisation"):
        if not _others_in_charge(membership, holder.person):
            role, organisation = Role(membership.role).label.lower(), membership.organisation
            raise LastInCharge(
                f"You are the only {role} of {organisation}: have somebody else made {role} there first, then come back."
            )
    waiting = (
        JobTicket.objects.filter(wheel_pair__bike__rider__in=holder.riders)
        .exclude(state=JobTicket.State.COLLECTED)
        .select_related("vendor")
        .first()
    )
    if waiting is not None:
        raise WheelsAtTheTrailer(
            f"Wheels are still with {waiting.vendor} (ticket {waiting.number} of {waiting.opened_on}): collect them "
            "first, then come back."
        )


def _others_in_charge(membership: Membership, person: Person | None) -> bool:
    others = Membership.objects.filter(
        organisation=membership.organisation_id, role=membership.role, person__is_active=True
    ).exclude(person=person)
    return others.exclude(Q(person__api_keys__organisation__isnull=False)).exists()
