"""Finding what a cell points to: by code for things, by key for facts; each shelf is read from the database once."""

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any, Final

from django.db.models import Model, QuerySet

from fleet.accounts.models import Organisation, Person
from fleet.catalogue.models import TireLine, TireSpec
from fleet.events.models import Day, Event, Group, Layout, Track
from fleet.exchange.columns import Identity, Row
from fleet.garage.models import Bike, Instrument, Rider, WheelPair
from fleet.inventory.availability import reservations
from fleet.inventory.models import Fitting, Hold, JobTicket, Lot, RecallNotice, Tire
from fleet.running.models import Stint
from fleet.trials.models import TireTest


@dataclass(frozen=True)
class Shelf:
    """Where rows are found by their identity; facts are fetched one by one, their number has no bound."""

    word: str
    rows: Callable[[], "QuerySet[Any]"]
    identity: Callable[[Row], Identity]
    is_fact: bool = False


def ticket_name(ticket: JobTicket) -> str:
    """Return a ticket's name within its vendor: the day and the number, such as 2026-06-12/3."""
    return f"{ticket.opened_on.isoformat()}/{ticket.number}"


SHELVES: Final[dict[str, Shelf]] = {
    "organisation": Shelf("organisation", Organisation.objects.all, lambda row: (row.code,)),
    "person": Shelf("person", Person.objects.all, lambda row: (row.email,)),
    "line": Shelf("tire line", TireLine.objects.all, lambda row: (row.maker, row.name)),
    "spec": Shelf("tire spec", lambda: TireSpec.objects.select_related("line"), lambda row: (row.code,)),
    "track": Shelf("track", Track.objects.all, lambda row: (row.code,)),
    "layout": Shelf("layout", lambda: Layout.objects.select_related("track"), lambda row: (row.code,)),
    "rider": Shelf("rider", lambda: Rider.objects.select_related("registered_with"), lambda row: (row.code,)),
    "bike": Shelf("bike", lambda: Bike.objects.select_related("rider"), lambda row: (row.code,)),
    "wheel_pair": Shelf(
        "wheel pair", lambda: WheelPair.objects.select_related("bike__rider"), lambda row: (row.code,)
    ),
    "instrument": Shelf("instrument", Instrument.objects.all, lambda row: (row.code,)),
    "event": Shelf("event", lambda: Event.objects.select_related("organiser"), lambda row: (row.code,)),
    "day": Shelf(
        "day",
        lambda: Day.objects.select_related("event__organiser", "layout__track"),
        lambda row: (row.event.code, row.date),
    ),
    "group": Shelf(
        "group", lambda: Group.objects.select_related("event"), lambda row: (row.event.code, row.name)
    ),
    "lot": Shelf(
        "lot",
        lambda: Lot.objects.select_related("vendor", "spec__line"),
        lambda row: (row.vendor.code, row.code),
    ),
    "tire": Shelf(
        "tire",
        lambda: Tire.objects.select_related("spec__line", "owner"),
        lambda row: (row.label_code,),
    ),
    "ticket": Shelf(
        "job ticket",
        lambda: JobTicket.objects.select_related("vendor", "wheel_pair__bike"),
        lambda row: (row.vendor.code, ticket_name(row)),
    ),
    "fitting": Shelf(
        "fitting",
        lambda: Fitting.objects.select_related(
            "tire__spec__line", "tire__owner", "wheel_pair__bike__rider", "vendor", "movement"
        ),
        lambda row: (row.pk,),
        is_fact=True,
    ),
    "hold": Shelf(
        "hold", lambda: Hold.objects.select_related("tire", "placed_for"), lambda row: (row.pk,), is_fact=True
    ),
    "reservation": Shelf(
        "reservation",
        lambda: reservations().select_related("vendor", "spec__line"),
        lambda row: (row.pk,),
        is_fact=True,
    ),
    "recall": Shelf(
        "recall",
        lambda: RecallNotice.objects.select_related("entered_for"),
        lambda row: (row.pk,),
        is_fact=True,
    ),
    "tire_test": Shelf(
        "tire test",
        lambda: TireTest.objects.select_related("organisation", "bike__rider"),
        lambda row: (row.code,),
    ),
    "stint": Shelf(
        "stint",
        lambda: Stint.objects.select_related("wheel_pair__bike__rider"),
        lambda row: (row.pk,),
        is_fact=True,
    ),
}


@dataclass
class Known:
    """What was found or added so far, by shelf; thrown away whenever a file is rolled back."""

    shelves: dict[str, dict[Identity, Model]] = field(default_factory=dict)

    def find(self, name: str, identity: Identity) -> Model | None:
        """Return the row of a shelf under this identity, or nothing."""
        shelf = SHELVES[name]
        if name not in self.shelves:
            stored = () if shelf.is_fact else shelf.rows()
            self.shelves[name] = {shelf.identity(row): row for row in stored}
        found = self.shelves[name].get(identity)
        if found is None and shelf.is_fact:
            found = shelf.rows().filter(pk=identity[0]).first()
            if found is not None:
                self.shelves[name][identity] = found
        return found

    def put(self, name: str, row: Model) -> None:
        """Add a new row to its shelf, if that was read already."""
        shelf = SHELVES[name]
        if name in self.shelves or shelf.is_fact:
            self.shelves.setdefault(name, {})[shelf.identity(row)] = row
