"""The list for the gate: who rides on tires near their end, by what the day will ask of them, and everybody by number."""

import uuid
from dataclasses import dataclass
from datetime import datetime, time
from zoneinfo import ZoneInfo

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from fleet.accounts.models import Person
from fleet.accounts.policy import Right, may, require
from fleet.catalogue.models import Axle
from fleet.events.models import Day, Entry
from fleet.events.queries import entrants_for, entries_for
from fleet.inventory.inspection import Inspection
from fleet.life.models import State
from fleet.life.queries import MountedTire, last_inspections, sets_of
from fleet.pages.asking import person_of
from fleet.pages.day import NEAR_END
from fleet.pages.desk import desk_day
from fleet.pages.gate import gate_inspections
from fleet.pages.inspection_form import InspectionForm


@dataclass(frozen=True)
class GateEntry:
    """Somebody who rides, with both tires as far as they are known."""

    entry: Entry
    tires: list[MountedTire]
    inspected: dict[uuid.UUID, Inspection]

    @property
    def is_near_end(self) -> bool:
        """Whether a tire needs a look before it goes out."""
        return any(tire.is_on_hold or _state(tire) in NEAR_END for tire in self.tires)

    @property
    def asked(self) -> tuple[int, float]:
        """Return how soon somebody must look: what must not go out, then the least likely to last the day."""
        is_stopped = any(tire.is_stopped for tire in self.tires)
        chances = [tire.assessment.chance_next_day for tire in self.tires if tire.assessment]
        return (0 if is_stopped else 1, min(chances, default=1.0))

    @property
    def axles(self) -> list[tuple[MountedTire, Inspection | None] | None]:
        """Return front and rear with what was found last, nothing where no tire is logged."""
        by_axle = {tire.fitting.axle: tire for tire in self.tires}
        found = [by_axle.get(axle) for axle in Axle.values]
        return [(tire, self.inspected.get(tire.fitting.tire_id)) if tire else None for tire in found]

    @property
    def is_inspected(self) -> bool:
        """Whether every tire that is logged was looked at on the day."""
        return bool(self.tires) and all(tire.fitting.tire_id in self.inspected for tire in self.tires)

    @property
    def is_known(self) -> bool:
        """Whether tires are logged on the wheels this bike uses."""
        return bool(self.tires)


@require_safe
def gate_list(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    """Show the whole list on one page, to read, to print, and to keep for when the network is gone."""
    by, at = person_of(request), timezone.now()
    day = desk_day(by, pk)
    require(by, Right.READ_ENTRANTS, day.event.organiser)
    everybody = gate_entries(by, day)
    may_hold = may(by, Right.HOLD, day.event.organiser)
    near = sorted(
        (one for one in everybody if one.is_near_end), key=lambda one: (one.asked, one.entry.number.zfill(6))
    )
    context = {
        "place": "desk",
        "day": day,
        "zone": day.layout.track.time_zone,
        "at": at,
        "near": near,
        "everybody": everybody,
        "inspected": sum(one.is_inspected for one in everybody),
        "form": InspectionForm() if may_hold else None,
        "unknown": sum(not one.is_known for one in everybody),
    }
    return render(request, "pages/gate_list.html", context)


def gate_entries(by: Person, day: Day) -> list[GateEntry]:
    """Return who rides on a day and whose tires the crew may see, by number."""
    at = timezone.now()
    entries = list(entries_for(by).filter(day=day, rider__in=entrants_for(by, on=at.date())))
    tires = {
        view.wheel_pair.bike_id: list(view.tires.values())
        for view in sets_of([entry.rider for entry in entries])
    }
    mounted = [one.fitting.tire_id for rows in tires.values() for one in rows]
    inspected = last_inspections(gate_inspections(day).filter(inspected_at__gte=_morning(day)), mounted)
    found = [GateEntry(entry, tires.get(entry.bike_id, []), inspected) for entry in entries]
    return sorted(found, key=lambda one: one.entry.number.zfill(6))


def _morning(day: Day) -> datetime:
    """Return when a day begins at its track."""
    return datetime.combine(day.date, time.min, ZoneInfo(day.layout.track.time_zone))


def _state(tire: MountedTire) -> State | None:
    return State(tire.assessment.state) if tire.assessment else None
