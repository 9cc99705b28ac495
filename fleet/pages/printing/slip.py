"""The slip that goes back with the wheels: tires, what to set in the rider's units and on the rider's gauge, cautions."""

import uuid
from dataclasses import asdict, dataclass, field
from datetime import date, datetime
from typing import Any, Final

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from fleet.garage.models import Instrument
from fleet.garage.queries import is_old_comparison
from fleet.inventory.labels import date_code_of, in_groups
from fleet.inventory.models import Tire
from fleet.life.models import State
from fleet.life.queries import MountedTire
from fleet.pages.asking import person_of
from fleet.pages.printing.papers import SLIP_PAPERS
from fleet.pages.printing.typesetting import pdf_answer
from fleet.pages.ticket import ticket_of, told_of
from fleet.pages.units import age, clock, day_of, in_words, off_by, pressure, pressure_unit, temperature
from fleet.pressures.models import ByHand

LONG_NAME: Final = 32
CAUTIONS: Final = (
    "New tires are slippery: scrub in, build up over the first laps.",
    "Axle and pinch bolts to the maker's torque; pump the brake before moving off.",
    "Track pressures are too low for the road: reset before riding home.",
    "A starting point only: the maker's range and the placard come first. Check with your own gauge.",
)
NOT_OUT: Final = "No start pressure: this tire should not go out."
NOT_COMPUTED: Final = "No start pressure computed: ask at the trailer, maker's range and placard first."
SCRUB_IN: Final = "Not scrubbed in yet: take the first laps gently."
EMPTY: Final = "No tire on this wheel. Do not fit the wheel to the bike."


@dataclass(frozen=True)
class Wheel:
    """One end of the bike in words: what to set, or why nothing is set, and which tire it is about."""

    axle: str
    stop: str = ""
    figure: str = ""
    beside: str = ""
    lines: list[str] = field(default_factory=list)
    tire: str = ""
    told: str = ""


@dataclass(frozen=True)
class Slip:
    """Every word of a slip, in the order it is read."""

    title: str
    number: str
    rider: str
    is_long_name: bool
    under: list[str]
    wheels: list[Wheel]
    weather: str
    cautions: list[str]


@require_safe
def slip(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    """Show the slip, to print from the browser."""
    by = person_of(request)
    row = ticket_of(by, pk)
    paper = SLIP_PAPERS.chosen(request)
    context = {
        "place": "trailer",
        "ticket": row,
        "slip": slip_of(told_of(by, row, timezone.now())),
        "paper": paper,
        "papers": SLIP_PAPERS.names.items(),
    }
    return SLIP_PAPERS.remember(render(request, "pages/slip.html", context), paper)


@require_safe
def slip_pdf(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    """Answer with the slip as PDF."""
    by = person_of(request)
    row = ticket_of(by, pk)
    paper = SLIP_PAPERS.chosen(request)
    words = asdict(slip_of(told_of(by, row, timezone.now()))) | {"paper": paper}
    return pdf_answer("slip", words, name=f"slip-{row.number}")


def slip_of(told: dict[str, Any]) -> Slip:
    """Return the words of a ticket's slip, from what its page tells."""
    ticket, entry, today = told["ticket"], told["entry"], told["today"]
    rider = ticket.wheel_pair.bike.rider
    under = [str(ticket.wheel_pair), f"{ticket.vendor}, {day_of(today)}"]
    if entry:
        under.append(
            f"{entry.day.event}, {day_of(entry.day.date)}, group {entry.group}, number {entry.number}"
        )
    return Slip(
        title=f"Slip {ticket.number}, {rider}",
        number=str(ticket.number),
        rider=str(rider),
        is_long_name=len(str(rider)) > LONG_NAME,
        under=under,
        wheels=[_wheel(one, told["gauge"], rider.person, today) for one in told["axles"]],
        weather=_weather(told["conditions"], told["zone"], rider.person),
        cautions=list(CAUTIONS),
    )


def _wheel(one: dict[str, Any], gauge: Instrument | None, reader: Any, today: date) -> Wheel:
    mounted = one["mounted"]
    axle = one["axle"].title()
    if mounted is None:
        return Wheel(axle, stop=EMPTY)
    tire = mounted.fitting.tire
    about: dict[str, Any] = {"tire": str(tire.spec), "told": _told(tire, today)}
    if mounted.is_stopped:
        return Wheel(axle, stop=NOT_OUT, lines=_why(mounted), **about)
    scrub = [SCRUB_IN] if mounted.assessment is None or mounted.assessment.state == State.FRESH else []
    if not one["fits"]:
        return Wheel(axle, stop=NOT_COMPUTED, lines=scrub, **about)
    line, offset_kpa = one["line"], gauge.offset_kpa if gauge else 0.0
    by_hand = [_by_hand(line.by_hand, reader)] if line.by_hand else []
    held = f"; held at the maker's {line.limit_hit} limit" if line.limit_hit else ""
    when = "off the warmers" if line.uses_warmers else f"tire at {temperature(line.tire_c, reader)}"
    return Wheel(
        f"{axle}, set",
        figure=pressure(line.shown_kpa, reader),
        beside=f"{_other(line.shown_kpa, reader)}, {when}",
        lines=[
            *by_hand,
            f"Hot target {_both(line.hot_target_kpa + offset_kpa, reader)}{held}.",
            gauge_note(gauge, one["true_kpa"], reader, today),
            *scrub,
        ],
        **about,
    )


def _by_hand(by_hand: ByHand, reader: Any) -> str:
    beyond = " It leaves the maker's range: ask the event director first." if by_hand.is_beyond_range else ""
    return (
        f"Set by hand by the organiser, bulletin {by_hand.bulletin}; worked out for this bike alone: "
        f"{pressure(by_hand.computed_kpa, reader)}.{beyond}"
    )


def _why(mounted: MountedTire) -> list[str]:
    held = [f"On hold: {hold.get_reason_display().lower()}." for hold in mounted.holds]
    recalled = [str(recall) for recall in mounted.recalls]
    if held or recalled or mounted.assessment is None:
        return [*recalled, *held]
    return [f"A limit is reached: {in_words(mounted.assessment.binding_limit)}."]


def gauge_note(gauge: Instrument | None, true_kpa: float, reader: Any, today: date) -> str:
    """Return whose gauge the figures are read on, when it was compared, and the true pressure where they differ."""
    if gauge is None:
        return "As a true gauge shows it."
    if gauge.compared_on is None and not gauge.offset_kpa:
        return f"Your gauge ({gauge.name}) was never compared: check it against the trailer's."
    compared = (
        f", compared {day_of(gauge.compared_on)}" if gauge.compared_on else ", compared on a day not noted"
    )
    if gauge.compared_on and is_old_comparison(gauge, on=today):
        compared += ", which is old: compare it again"
    if not gauge.offset_kpa:
        return f"On your gauge ({gauge.name}{compared}). It reads true."
    return (
        f"On your gauge ({gauge.name}{compared}). It reads {off_by(gauge.offset_kpa, reader)}: "
        f"a true gauge shows {_both(true_kpa, reader)}."
    )


def _told(tire: Tire, today: date) -> str:
    code = date_code_of(tire)
    made = f"date code {code}, {age(tire.made_on, today)}" if code else age(tire.made_on, today)
    return f"Label {in_groups(tire.label_code)}, {made}"


def _other(kpa: float, reader: Any) -> str:
    return pressure(kpa, "psi" if pressure_unit(reader).sign == "bar" else "bar")


def _both(kpa: float, reader: Any) -> str:
    return f"{pressure(kpa, reader)}, {_other(kpa, reader)}"


def _weather(conditions: Any, zone: str, reader: Any) -> str:
    if conditions is None:
        return ""
    moment: datetime = conditions.holds_at
    return (
        f"For air {temperature(conditions.air_c, reader)}, track surface "
        f"{temperature(conditions.track_surface_c, reader)} at {clock(moment, zone)}, {day_of(moment, zone)}."
    )
