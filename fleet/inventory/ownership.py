"""Whose a tire was at a moment: what was written about it belongs to whoever held it then, also after it changed hands."""

from datetime import datetime

from django.db.models import Exists, OuterRef, Prefetch, Q, QuerySet

from fleet.accounts.models import Organisation
from fleet.accounts.policy import Actor, Service, author
from fleet.errors import NotFound
from fleet.garage.models import Rider
from fleet.garage.queries import owns
from fleet.inventory.handover import Handover
from fleet.inventory.models import Tire


def done() -> QuerySet[Handover]:
    """Return the handovers that both agreed to."""
    return Handover.objects.filter(handed_at__isnull=False)


def since_last_handed(when: str, *, tire: str = "tire") -> Q:
    """Return the condition on rows about a tire that it did not change hands after the time in a column of theirs."""
    return Q(~Exists(done().filter(tire=OuterRef(tire), handed_at__gt=OuterRef(when))))


def once_theirs(riders: QuerySet[Rider], when: str, *, tire: str = "tire") -> Q:
    """Return the condition on rows about a tire that some riders, who handed it over since, held it at that time."""
    began = Q(held_since__isnull=True) | Q(held_since__lte=OuterRef(when))
    given = done().filter(
        began, tire=OuterRef(tire), handed_at__gt=OuterRef(when), giver__in=riders.values("pk")
    )
    return Q(**{f"{tire}__in": done().filter(giver__in=riders.values("pk")).values("tire")}) & Q(
        Exists(given)
    )


def theirs_then(riders: QuerySet[Rider], when: str, *, tire: str = "tire") -> Q:
    """Return the condition on rows about a tire that some riders held it at the time in a column of theirs."""
    now = Q(**{f"{tire}__owner__in": riders.values("pk")}) & since_last_handed(when, tire=tire)
    return now | once_theirs(riders, when, tire=tire)


def records_of(by: Actor) -> QuerySet[Rider]:
    """Return the rider record of somebody, or no row; the service has none."""
    return Rider.objects.none() if isinstance(by, Service) else Rider.objects.filter(person=by)


def holder_then(by: Actor, tire: Tire, moment: datetime, vendor: Organisation | None = None) -> Rider:
    """Return whose tire it is to write about at a moment: its owner's, or, without a crew, of who asks and held it then."""
    if vendor is not None or owns(by, tire.owner):
        return tire.owner
    began = Q(held_since__isnull=True) | Q(held_since__lte=moment)
    given = done().filter(began, tire=tire, giver__person=author(by), handed_at__gt=moment)
    handover = given.select_related("giver").first()
    return handover.giver if handover else tire.owner


def held_since(tire: Tire) -> datetime | None:
    """Return since when its owner holds a tire that changed hands, or nothing where it never did."""
    return done().filter(tire=tire).order_by("-handed_at").values_list("handed_at", flat=True).first()


def given_by(by: Actor) -> QuerySet[Handover]:
    """Return the handovers with which somebody gave tires away, the newest first."""
    return (
        done()
        .filter(giver__in=records_of(by))
        .select_related("tire__spec__line")
        .order_by("-handed_at", "id")
    )


def handovers_for(by: Actor) -> QuerySet[Handover]:
    """Return what somebody offered, gave and took, the newest first."""
    own = records_of(by)
    return (
        Handover.objects.filter(Q(giver__in=own) | Q(taker__in=own))
        .select_related("tire__spec__line", "giver", "taker")
        .order_by("-offered_at", "id")
    )


def open_offers(by: Actor, *, at: datetime) -> QuerySet[Handover]:
    """Return the links somebody made that still wait for an answer."""
    return handovers_for(by).filter(
        giver__in=records_of(by), handed_at=None, withdrawn_at=None, declined_at=None, expires_at__gt=at
    )


def standing_offer(digest: str, *, at: datetime) -> Handover:
    """Return the offer a link stands for; one answered, taken back, over or never made is refused in the same words."""
    offer = (
        Handover.objects.filter(
            digest=digest, handed_at=None, withdrawn_at=None, declined_at=None, expires_at__gt=at
        )
        .select_related("tire__spec__line", "tire__owner", "giver")
        .first()
    )
    if offer is None or offer.giver_id != offer.tire.owner_id or offer.giver.person_id is None:
        raise NotFound("This link was used or is over: ask who gave it to you for a new one.")
    return offer


def with_hands(tires: QuerySet[Tire]) -> QuerySet[Tire]:
    """Return tires with their handovers in order as ``hands``."""
    hands = done().select_related("giver").order_by("handed_at", "id")
    return tires.prefetch_related(Prefetch("handovers", queryset=hands, to_attr="hands"))
