"""The exchange folder narrowed to one rider: their rows, and the shared rows these point to.

Tires from stock stand in it as the rider's own, so that it reads back without a vendor's ledger, and job tickets are
numbered anew, since a vendor's own numbers count its other customers.
"""

import uuid
from collections import defaultdict
from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import Any, Final, TypeAlias

from django.db.models import Q, QuerySet

from fleet.accounts.models import Membership
from fleet.events.models import Day, Entry, Event, Layout
from fleet.exchange.columns import Sheet
from fleet.exchange.folder import SHEETS
from fleet.garage.comparison import GaugeComparison
from fleet.garage.models import Instrument, Sharing
from fleet.inventory.inspection import Inspection
from fleet.inventory.models import Fitting, Hold, JobTicket, Removal, TicketWish, Tire
from fleet.inventory.ownership import done, theirs_then
from fleet.privacy.holder import Holder
from fleet.running.models import (
    ContourReading,
    PressureReading,
    ShapeReading,
    Stint,
    TemperatureReading,
    TreadReading,
)

Take: TypeAlias = Callable[[Any], Any]
LEFT_OUT: Final = {
    "reference_notes": "reported by others, about no rider",
    "lots": "a vendor's ledger; more/tires_from_stock.csv names the lots of the rider's tires",
    "movements": "a vendor's ledger",
    "listings": "a vendor's prices",
    "reservations": "more/reservations.csv holds them",
    "handovers": "they name the other rider; more/handovers.csv says which tires you gave and took",
    "recalls": "about kinds of tires; more/recalls.csv says which you were told about",
    "recall_contacts": "more/recalls.csv holds them",
    "sidewalls": "more/sidewalls.csv holds them",
    "tire_tests": "the testers' plan and words; more/tire_tests.csv tells of tests of your bikes",
    "test_steps": "the testers' plan",
    "test_runs": "more/test_runs.csv names your stints that were runs",
}
READINGS: Final = (PressureReading, TreadReading, TemperatureReading, ShapeReading, ContourReading)


def sheets_about(holder: Holder) -> Iterator[Sheet]:
    """Return the files of a rider's own exchange folder, their rows narrowed; a file nobody thought of stays out."""
    conditions = _conditions(holder)
    takes = _takes(holder)
    for sheet in SHEETS:
        if sheet.name in conditions:
            yield _narrowed(sheet, conditions[sheet.name], takes[sheet.name])


def _narrowed(sheet: Sheet, condition: Q, takes: dict[str, Take]) -> Sheet:
    columns = tuple(
        replace(column, take=takes[column.name]) if column.name in takes else column
        for column in sheet.columns
    )
    rows = Tire.objects.select_related("owner", "spec", "lot") if sheet.name == "tires" else sheet.rows()
    return replace(sheet, columns=columns, rows=lambda: rows.filter(condition))


def _conditions(holder: Holder) -> dict[str, Q]:
    """Return which rows of each file are about a rider or pointed to by what is."""
    riders, people = holder.riders, holder.people
    on_wheels = Q(wheel_pair__bike__rider__in=riders)
    of_tire, held, seen = (theirs_then(riders, when) for when in ("taken_at", "placed_at", "seen_at"))
    of_stint = Q(stint__wheel_pair__bike__rider__in=riders)
    stints = Stint.objects.filter(on_wheels)
    entries = Entry.objects.filter(rider__in=riders)
    days = Day.objects.filter(Q(pk__in=entries.values("day")) | Q(pk__in=stints.values("day")))
    layouts = Layout.objects.filter(Q(pk__in=days.values("layout")) | Q(pk__in=stints.values("layout")))
    events = Event.objects.filter(pk__in=days.values("event"))
    tires = Tire.objects.filter(
        Q(owner__in=riders) | Q(pk__in=done().filter(giver__in=riders).values("tire"))
    )
    gauges = Q(rider__in=riders)
    for model in READINGS:
        gauges |= Q(rider__isnull=True, pk__in=model.objects.filter(of_tire).values("instrument"))
    gauges |= Q(
        rider__isnull=True,
        pk__in=GaugeComparison.objects.filter(instrument__rider__in=riders).values("master"),
    )
    wishes = TicketWish.objects.filter(ticket__wheel_pair__bike__rider__in=riders)
    return {
        "organisations": _organisations(holder, events, gauges),
        "people": Q(pk__in=people),
        "lines": Q(pk__in=tires.values("spec__line")) | Q(pk__in=wishes.values("spec__line")),
        "specs": Q(pk__in=tires.values("spec")) | Q(pk__in=wishes.values("spec")),
        "pressure_specs": Q(line__in=tires.values("spec__line"))
        & (Q(spec__isnull=True) | Q(spec__in=tires.values("spec"))),
        "riders": Q(pk__in=riders),
        "bikes": Q(rider__in=riders),
        "wheel_pairs": Q(bike__rider__in=riders),
        "instruments": gauges,
        "comparisons": Q(instrument__rider__in=riders),
        "sharings": Q(rider__in=riders),
        "tracks": Q(pk__in=layouts.values("track")),
        "layouts": Q(pk__in=layouts),
        "events": Q(pk__in=events),
        "days": Q(pk__in=days),
        "groups": Q(pk__in=entries.values("group")),
        "slots": Q(day__in=days, group__in=entries.values("group")),
        "entries": Q(rider__in=riders),
        "conditions": Q(day__in=days, voided_at__isnull=True),
        "tires": Q(pk__in=tires.values("pk")),
        "tickets": on_wheels,
        "wishes": Q(pk__in=wishes),
        "fittings": on_wheels,
        "removals": Q(fitting__wheel_pair__bike__rider__in=riders),
        "holds": held,
        "inspections": theirs_then(riders, "inspected_at"),
        "stints": on_wheels,
        "pressures": of_tire,
        "treads": of_tire,
        "temperatures": of_tire,
        "shapes": of_tire,
        "contours": of_tire,
        "adjustments": on_wheels,
        "feel_notes": of_stint,
        "surface_notes": seen,
        "advice_answers": of_stint,
        "cycle_corrections": of_stint,
    }


def _organisations(holder: Holder, events: QuerySet[Event], gauges: Q) -> Q:
    riders = holder.riders
    tickets = JobTicket.objects.filter(wheel_pair__bike__rider__in=riders)
    fittings = Fitting.objects.filter(wheel_pair__bike__rider__in=riders)
    return (
        Q(pk__in=riders.values("registered_with"))
        | Q(pk__in=Membership.objects.filter(person__in=holder.people).values("organisation"))
        | Q(pk__in=Sharing.objects.filter(rider__in=riders).values("organisation"))
        | Q(pk__in=events.values("organiser"))
        | Q(pk__in=tickets.values("vendor"))
        | Q(pk__in=fittings.values("vendor"))
        | Q(pk__in=Removal.objects.filter(fitting__in=fittings).values("vendor"))
        | Q(pk__in=Hold.objects.filter(theirs_then(riders, "placed_at")).values("placed_for"))
        | Q(pk__in=Inspection.objects.filter(theirs_then(riders, "inspected_at")).values("inspected_for"))
        | Q(pk__in=Instrument.objects.filter(gauges).values("organisation"))
    )


def _takes(holder: Holder) -> dict[str, dict[str, Take]]:
    """Return the columns that show something else in a rider's own folder than in the folder of everything."""
    numbers = _ticket_numbers(holder)
    takes: dict[str, dict[str, Take]] = defaultdict(dict)
    takes["organisations"] = {"contact": _nothing}
    takes["conditions"] = {"source": lambda _: "the organiser"}
    takes["instruments"] = {"name": lambda gauge: gauge.name if gauge.rider_id else gauge.code}
    code = holder.rider.code if holder.rider else ""
    takes["tires"] = {"identification": _identification, "rider": lambda _: code}
    takes["tickets"] = {"number": lambda ticket: numbers[ticket.pk]}
    takes["wishes"] = {
        "ticket": lambda wish: f"{wish.ticket.opened_on.isoformat()}/{numbers[wish.ticket_id]}"
    }
    takes["fittings"] = {
        "lot": _nothing,
        "place": _nothing,
        "identification": _nothing,
        "unit_price": _nothing,
        "reservation": _nothing,
        "ticket": lambda one: one.ticket and f"{one.ticket.opened_on.isoformat()}/{numbers[one.ticket_id]}",
    }
    for name in ("pressures", "treads", "temperatures", "shapes", "contours"):
        takes[name]["instrument"] = lambda one: _gauge_code(one, holder)
    takes["pressures"]["read_kpa"] = lambda one: _read_kpa(one, holder)
    return takes


def _ticket_numbers(holder: Holder) -> dict[uuid.UUID, int]:
    """Return the numbers of a rider's tickets counted anew: from 1 for each vendor and day."""
    counts: dict[tuple[Any, ...], int] = defaultdict(int)
    numbers = {}
    rows = JobTicket.objects.filter(wheel_pair__bike__rider__in=holder.riders).order_by("number")
    for pk, *day in rows.values_list("pk", "vendor", "opened_on"):
        counts[tuple(day)] += 1
        numbers[pk] = counts[tuple(day)]
    return numbers


def _nothing(_row: Any) -> None:
    return None


def _identification(tire: Tire) -> str:
    return tire.identification or (tire.lot.date_code if tire.lot else "")


def _gauge(reading: Any, holder: Holder) -> Instrument | None:
    """Return the instrument of a reading, unless it belongs to another rider."""
    gauge: Instrument | None = reading.instrument
    is_shown = gauge is not None and gauge.rider_id in {None, holder.rider and holder.rider.pk}
    return gauge if is_shown else None


def _gauge_code(reading: Any, holder: Holder) -> str | None:
    gauge = _gauge(reading, holder)
    return gauge.code if gauge else None


def _read_kpa(reading: PressureReading, holder: Holder) -> float:
    gauge = _gauge(reading, holder)
    return round(reading.pressure_kpa + (gauge.offset_kpa if gauge else 0.0), 3)
