"""What can go on an axle at the trailer: the wished tire first, then the same again, the oldest lot before the newer."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import Final

from django.utils.html import format_html

from fleet.accounts.models import Organisation, Person
from fleet.catalogue.models import TireSpec
from fleet.garage.models import WheelPair
from fleet.inventory.availability import open_reservations
from fleet.inventory.models import Fitting, JobTicket, Lot, Removal, TicketWish, Tire
from fleet.inventory.recalls import recalls_of, recalls_of_lots
from fleet.life.models import Assessment, State
from fleet.life.queries import MountedTire, tires_for
from fleet.life.suitability import Against, Axle, speaks_against
from fleet.pages.guided import mounted_on
from fleet.pages.trailer import lots_on_trailer
from fleet.pages.units import age

NOTHING: Final = "nothing"
OTHER_END: Final = {"front": "rear", "rear": "front"}
NEAR_THE_END: Final = {State.PLAN_A_CHANGE, State.LAST_DAY, State.STAND_DOWN}


@dataclass(frozen=True)
class Bench:
    """One wheel on the machine: whose crew works on which axle of which wheels, and what is on both ends now."""

    vendor: Organisation
    wheel_pair: WheelPair
    axle: str
    mounted: dict[str, MountedTire]
    ticket: JobTicket | None = None

    @property
    def old(self) -> MountedTire | None:
        """What is on the axle now."""
        return self.mounted.get(self.axle)

    @property
    def wish(self) -> TicketWish | None:
        """What the ticket says is to go on, and where the old tire then goes."""
        return self.ticket.wish_for(self.axle) if self.ticket else None

    @property
    def axle_at_hand(self) -> Axle:
        """The axle as what speaks against a tire asks for it."""
        old = self.old.fitting.tire.spec if self.old else None
        return Axle(bike=self.wheel_pair.bike, name=self.axle, old=old, other=self._other_end())

    def _other_end(self) -> TireSpec | None:
        """What will be on the other end: as wished, until this ticket's work there is done."""
        end = OTHER_END[self.axle]
        mounted = self.mounted.get(end)
        wish = self.ticket.wish_for(end) if self.ticket else None
        is_done = (
            mounted is not None and self.ticket is not None and mounted.fitting.ticket_id == self.ticket.pk
        )
        wished = (wish.spec or (wish.own_tire.spec if wish.own_tire else None)) if wish else None
        if wished is not None and not is_done:
            return wished
        return mounted.fitting.tire.spec if mounted else None

    @property
    def usual_end(self) -> dict[str, str]:
        """Why the old tire most likely comes off, and where it then goes."""
        if self.old is None:
            return {}
        assessment = self.old.assessment
        is_worn = assessment is not None and assessment.state in NEAR_THE_END
        usual = Removal.Destination.SCRAPPED if is_worn else Removal.Destination.HANDED_BACK
        return {
            "old_reason": Removal.Reason.WORN if is_worn else Removal.Reason.SWAP,
            "old_destination": (self.wish.destination if self.wish else "") or usual,
        }


@dataclass(frozen=True)
class Choice:
    """One tire that can go on, or none; what speaks against it, and what confirms that this was read."""

    value: str
    words: str
    more: str = ""
    lot: Lot | None = None
    tire: Tire | None = None
    against: tuple[Against, ...] = ()
    is_recalled: bool = False
    is_used: bool = False
    is_same: bool = False
    is_wished: bool = False
    is_reserved: bool = False

    @property
    def is_near(self) -> bool:
        """Whether it is likely to go on."""
        if self.value == NOTHING or self.is_recalled:
            return False
        return self.is_wished or self.is_reserved or self.is_same or not (self.against or self.is_used)

    @property
    def label(self) -> str:
        """The choice in two lines."""
        if not self.more:
            return self.words
        return format_html(
            '<span><strong>{}</strong><br><span class="soft">{}</span></span>', self.words, self.more
        )

    @property
    def made_on(self) -> date | None:
        """When it was made."""
        one = self.lot or self.tire
        return one.made_on if one else None

    @property
    def confirmation(self) -> str:
        """What a form carries once somebody decided to fit it all the same; empty where nothing speaks against it."""
        return f"{self.value} {','.join(one.code for one in self.against)}" if self.against else ""

    def is_confirmed_by(self, text: str) -> bool:
        """Return whether everything that speaks against it now was read when this was sent."""
        value, _, codes = text.partition(" ")
        return not self.against or (
            value == self.value and {one.code for one in self.against} <= {*codes.split(",")}
        )


def bench_of(vendor: Organisation, pair: WheelPair, axle: str, ticket: JobTicket | None) -> Bench:
    """Return an axle of a wheel pair with what is on both ends."""
    return Bench(vendor, pair, axle, mounted_on(pair), ticket)


def choices_on(bench: Bench, by: Person, *, on: date) -> list[Choice]:
    """Return what can go on the axle, the likeliest first, and last the choice to leave it empty."""
    found = [*_from_lots(bench, by, on), *_own(bench, by, on)]
    ranked = sorted(found, key=_rank)
    if bench.old is None:
        return ranked
    return [*ranked, Choice(NOTHING, "None: take the old tire off and leave the axle empty")]


def likeliest(choices: Iterable[Choice]) -> str:
    """Return the value to choose beforehand: what is wished, the same again, or what nothing speaks against."""
    first = next(iter(choices), None)
    return first.value if first is not None and first.is_near else ""


def _rank(choice: Choice) -> tuple[object, ...]:
    return (
        choice.is_recalled,
        not choice.is_wished,
        not choice.is_reserved,
        choice.is_used,
        not choice.is_same,
        len(choice.against),
        choice.lot is not None,
        choice.words,
        choice.made_on or date.min,
        choice.value,
    )


def _from_lots(bench: Bench, by: Person, on: date) -> list[Choice]:
    rows = [
        (lot, left)
        for lot, left in lots_on_trailer(by)
        if lot.vendor_id == bench.vendor.pk and lot.spec.axle == bench.axle
    ]
    recalled = recalls_of_lots(lot.pk for lot, _ in rows)
    rider = bench.wheel_pair.bike.rider
    reserved = {*open_reservations().filter(rider=rider, vendor=bench.vendor).values_list("spec", flat=True)}
    return [
        _choice(
            f"lot:{lot.pk}",
            lot.spec,
            f"lot {lot.code}, {age(lot.made_on, on)}, {left} on the trailer",
            speaks_against(lot.spec, bench.axle_at_hand, on=on, made_on=lot.made_on),
            bench=bench,
            is_recalled=lot.pk in recalled,
            is_reserved=lot.spec_id in reserved,
            lot=lot,
        )
        for lot, left in rows
    ]


def _own(bench: Bench, by: Person, on: date) -> list[Choice]:
    on_wheels = Fitting.objects.filter(removed_at__isnull=True, voided_at__isnull=True).values("tire")
    scrapped = Removal.objects.filter(destination=Removal.Destination.SCRAPPED, voided_at__isnull=True)
    rider = bench.wheel_pair.bike.rider
    rows = list(
        tires_for(by, on=on)
        .filter(owner=rider, spec__axle=bench.axle)
        .exclude(pk__in=on_wheels)
        .exclude(pk__in=scrapped.values("fitting__tire"))
    )
    ids = [tire.pk for tire in rows]
    used = {*Fitting.objects.filter(tire__in=ids, voided_at__isnull=True).values_list("tire", flat=True)}
    newest = {one.tire_id: one for one in Assessment.objects.filter(tire__in=ids, is_newest=True)}
    recalled = recalls_of(ids)
    return [
        _choice(
            f"tire:{tire.pk}",
            tire.spec,
            f"the rider's own, label {tire.label_code}, {age(tire.made_on, on)}",
            speaks_against(
                tire.spec, bench.axle_at_hand, on=on, made_on=tire.made_on, assessment=newest.get(tire.pk),
                was_used=tire.pk in used,
            ),
            bench=bench,
            is_recalled=tire.pk in recalled,
            is_used=tire.pk in used,
            tire=tire,
        )
        for tire in rows
    ]  # fmt: skip


def _choice(
    value: str,
    spec: TireSpec,
    more: str,
    against: list[Against],
    *,
    bench: Bench,
    is_recalled: bool,
    is_used: bool = False,
    is_reserved: bool = False,
    lot: Lot | None = None,
    tire: Tire | None = None,
) -> Choice:
    old, wish = bench.axle_at_hand.old, bench.wish
    is_wished = wish is not None and (
        (tire is not None and wish.own_tire_id == tire.pk) or (lot is not None and wish.spec_id == spec.pk)
    )
    known = {
        "as wished": is_wished,
        "reserved for this rider": is_reserved,
        "recalled, not to be fitted": is_recalled,
    }
    marks = [words for words, holds in known.items() if holds]
    return Choice(
        value,
        str(spec),
        ", ".join([*marks, more, *(one.words for one in against)]),
        lot=lot,
        tire=tire,
        against=tuple(against),
        is_recalled=is_recalled,
        is_used=is_used,
        is_same=old is not None and old.pk == spec.pk,
        is_wished=is_wished,
        is_reserved=is_reserved,
    )


def chosen_among(choices: Iterable[Choice], value: str) -> Choice | None:
    """Return the choice that a form named."""
    return next((choice for choice in choices if choice.value == value), None)
