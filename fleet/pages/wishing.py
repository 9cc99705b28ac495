"""The form of a ticket: which wheels, what goes on, what happens with what comes off, and when it is wanted."""

import uuid
from collections.abc import Iterable
from datetime import datetime, timedelta
from typing import Any, Final, TypeAlias

from django import forms

from fleet.accounts.models import Organisation, Person
from fleet.catalogue.models import Axle, TireSpec
from fleet.events.models import Entry, Slot
from fleet.events.queries import coming_entries
from fleet.garage.models import WheelPair
from fleet.inventory.actions.wishes import Wished
from fleet.inventory.models import JobTicket, Removal, TicketWish, Tire
from fleet.inventory.queries import lots_for, spare_tires
from fleet.life.models import State
from fleet.life.queries import MountedTire
from fleet.pages.asking import as_uuid
from fleet.pages.forms import KeyField, LocalTimeField, PlainForm
from fleet.pages.units import age, clock, day_of

WHEELS: Final = (("front", "Front"), ("rear", "Rear"), ("both", "Both"))
NOT_KNOWN: Final = ("", "Not known yet, or as said below")
NOT_SAID: Final = ("", "Not said yet")
NEAR_THE_END: Final = {State.PLAN_A_CHANGE, State.LAST_DAY, State.STAND_DOWN}
AS_IT_IS: Final = "as-it-is"
SOON: Final = {"in:30": timedelta(minutes=30), "in:60": timedelta(minutes=60)}
MOST_SLOTS: Final = 2
NOBODY: Final = uuid.UUID(int=0)
Choices: TypeAlias = list[tuple[str, Any]]


class WishForm(PlainForm):
    """What a rider wants done with a pair of wheels."""

    known_as = {"wishes": "wheels", "axle": "wheels"}

    def __init__(
        self, *args: Any, offers: dict[str, Choices], mounted: dict[str, MountedTire], slots: list[Slot], zone: str,
        pair: WheelPair, at: datetime, ticket: JobTicket | None = None, **kwargs: Any,
    ) -> None:  # fmt: skip
        super().__init__(*args, **kwargs)
        self.pair, self.ticket = pair, ticket
        self.wishes: list[Wished] = []
        self.take(wheels=forms.ChoiceField(label="Which wheels", choices=WHEELS, widget=forms.RadioSelect))
        for axle in Axle:
            self.take(**_axle_fields(axle, offers[axle], has_old=axle in mounted))
        self.take(
            wish=forms.CharField(
                label="Anything else",
                max_length=200,
                required=False,
                widget=forms.TextInput(attrs={"autocomplete": "off"}),
                help_text="Such as: on order, brings own tire at ten, check the valve.",
            ),
            wanted=forms.CharField(
                label="When it is wanted", widget=forms.RadioSelect(choices=_times(slots, zone, ticket, at))
            ),
            promised_at=LocalTimeField(
                zone=zone,
                label="Or by another time",
                required=False,
                help_text=f"Where it is filled in, it counts. The track's clock, {zone}.",
            ),
            key=KeyField(),
        )

    def clean(self) -> dict[str, Any]:
        """Gather what is wished for the wheels chosen; what stands at a wheel left alone is not asked."""
        said = super().clean() or {}
        chosen = said.get("wheels", "")
        axles = [axle for axle in Axle if chosen in {axle.value, "both"}]
        self.wishes = [
            self._wish(axle, said.get(f"{axle}_on", ""), said.get(f"{axle}_off", "")) for axle in axles
        ]
        return said

    def clean_wanted(self) -> str:
        """Refuse a word that is none of the choices; a slot of a form filled in earlier may have begun since."""
        wanted = str(self.cleaned_data["wanted"])
        is_known = wanted in {*SOON, "none"} or (wanted == AS_IT_IS and self.ticket) or self._slot(wanted)
        if not is_known:
            raise forms.ValidationError("This time is not offered any more: choose another one.")
        return wanted

    def _slot(self, wanted: str) -> Slot | None:
        kind, _, named = wanted.partition(":")
        pk = as_uuid(named)
        if kind != "slot" or pk is None:
            return None
        return Slot.objects.filter(pk=pk, day__entries__bike=self.pair.bike_id).first()

    def _wish(self, axle: Axle, goes_on: str, destination: str) -> Wished:
        wish: Wished = {"axle": axle.value, "destination": destination}
        kind, _, named = goes_on.partition(":")
        pk = as_uuid(named) or NOBODY
        spec = TireSpec.objects.select_related("line").filter(pk=pk, axle=axle).first()
        tire = spare_tires(self.pair.bike.rider).filter(pk=pk, spec__axle=axle).first()
        if kind == "spec" and spec:
            wish["spec"] = spec
        elif kind == "tire" and tire:
            wish["own_tire"] = tire
        elif goes_on:
            self.add_error(
                f"{axle}_on", f"This {axle} tire is not there any more: choose another one, or none."
            )
        return wish

    def promised(self, since: datetime) -> datetime | None:
        """Return when the wheels are promised, counted since they came in, or since the ticket is changed."""
        typed: datetime | None = self.cleaned_data["promised_at"]
        wanted: str = self.cleaned_data["wanted"]
        if typed is not None or wanted == "none":
            return typed
        if wanted == AS_IT_IS:
            return self.ticket.promised_at if self.ticket else None
        if wanted in SOON:
            return since + SOON[wanted]
        slot = self._slot(wanted)
        return slot.starts_at if slot else None


def initial_of(
    pair_tires: dict[str, MountedTire], offers: dict[str, Choices], slots: list[Slot]
) -> dict[str, Any]:
    """Return what most riders want: tires near their end renewed, the same again, before they go out next."""
    worn = [
        axle for axle, one in pair_tires.items() if one.assessment and one.assessment.state in NEAR_THE_END
    ]
    same = {
        f"{axle}_on": f"spec:{one.fitting.tire.spec_id}"
        for axle, one in pair_tires.items()
        if f"spec:{one.fitting.tire.spec_id}" in _values(offers[axle])
    }
    wanted = f"slot:{slots[0].pk}" if slots else "in:60"
    return {"wheels": worn[0] if len(worn) == 1 else "both", "wanted": wanted, **same}


def initial_of_ticket(ticket: JobTicket) -> dict[str, Any]:
    """Return what a ticket says."""
    axles = ticket.axles
    found: dict[str, Any] = {
        "wheels": "both" if len(axles) > 1 else "".join(axles), "wish": ticket.wish, "wanted": AS_IT_IS
    }  # fmt: skip
    for wish in ticket.wishes.all():
        found |= {f"{wish.axle}_on": _value_of(wish), f"{wish.axle}_off": wish.destination}
    return found


def offers_for(
    by: Person, vendor: Organisation, pair: WheelPair, at: datetime, wished: Iterable[TicketWish] = ()
) -> dict[str, Choices]:
    """Return by axle what can go on: what the vendor has, the rider's own, and what is wished already."""
    counts: dict[TireSpec, list[int]] = {}
    for lot in lots_for(by).filter(vendor=vendor):
        count = counts.setdefault(lot.spec, [0, 0])
        count[0] += int(getattr(lot, "on_trailer", 0))
        count[1] += int(getattr(lot, "in_store", 0))
    own = list(spare_tires(pair.bike.rider))
    return {
        axle: _offers(axle, counts, own, at, [one for one in wished if one.axle == axle]) for axle in Axle
    }


def next_slots(pair: WheelPair, at: datetime) -> tuple[Entry | None, list[Slot]]:
    """Return the day a bike rides next with its next times on track."""
    entries = coming_entries([pair.bike.rider], at=at)
    entry = next((one for one in entries if one.bike_id == pair.bike_id), None)
    if entry is None:
        return None, []
    coming = Slot.objects.filter(day=entry.day_id, group=entry.group_id, starts_at__gt=at).order_by(
        "starts_at", "id"
    )
    return entry, list(coming[:MOST_SLOTS])


def _axle_fields(axle: str, offers: Choices, *, has_old: bool) -> dict[str, forms.Field]:
    fields: dict[str, forms.Field] = {
        f"{axle}_on": forms.CharField(
            label=f"Goes on the {axle} wheel", required=False, widget=forms.Select(choices=offers)
        )
    }
    if has_old:
        fields[f"{axle}_off"] = forms.ChoiceField(
            label=f"The old {axle} tire is",
            choices=[NOT_SAID, *Removal.Destination.choices],
            required=False,
        )
    return fields


def _slot_at(slot: Slot, zone: str, at: datetime) -> str:
    is_today = day_of(slot.starts_at, zone) == day_of(at, zone)
    return (
        clock(slot.starts_at, zone)
        if is_today
        else f"{clock(slot.starts_at, zone)}, {day_of(slot.starts_at, zone)}"
    )


def _times(slots: list[Slot], zone: str, ticket: JobTicket | None, at: datetime) -> Choices:
    found: Choices = []
    if ticket is not None:
        stands = f"by {clock(ticket.promised_at, zone)}" if ticket.promised_at else "no time promised"
        found.append((AS_IT_IS, f"As it is: {stands}"))
    found += [(f"slot:{slot.pk}", f"Before the {_slot_at(slot, zone, at)} slot") for slot in slots]
    found += [("in:30", "In 30 minutes"), ("in:60", "In an hour")]
    return found if ticket and not ticket.promised_at else [*found, ("none", "No time promised")]


def _offers(
    axle: str, counts: dict[TireSpec, list[int]], own: list[Tire], at: datetime, wished: list[TicketWish]
) -> Choices:
    stock = [
        (f"spec:{spec.pk}", f"{spec}, {_where(*count)}")
        for spec, count in sorted(counts.items(), key=lambda row: str(row[0]))
        if spec.axle == axle and sum(count) > 0
    ]
    theirs = [
        (f"tire:{tire.pk}", f"{tire.spec}, label {tire.label_code}, {age(tire.made_on, at.date())}")
        for tire in own
        if tire.spec.axle == axle
    ]
    known = {value for value, _ in [*stock, *theirs]}
    gone = [
        (_value_of(one), f"{one.spec or one.own_tire}, not there now")
        for one in wished
        if _value_of(one) not in known | {""}
    ]
    groups = (("As wished before", gone), ("From stock", stock), ("The rider's own", theirs))
    return [NOT_KNOWN, *((name, rows) for name, rows in groups if rows)]


def _where(on_trailer: int, in_store: int) -> str:
    return f"{on_trailer} on the trailer" if on_trailer else f"none on the trailer, {in_store} in the store"


def _value_of(wish: TicketWish) -> str:
    if wish.spec_id:
        return f"spec:{wish.spec_id}"
    return f"tire:{wish.own_tire_id}" if wish.own_tire_id else ""


def _values(choices: Choices) -> set[str]:
    return {value for _, rows in choices if isinstance(rows, list) for value, _ in rows}
