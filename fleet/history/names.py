"""Names of the things a history speaks of, for a page; people are named by the history itself, and nowhere else."""

import uuid
from collections.abc import Iterable, Iterator
from functools import cache
from typing import Any, Final

from django.apps import apps
from django.db import models

from fleet.accounts.models import Organisation
from fleet.accounts.trail import noun_of
from fleet.catalogue.models import TireSpec
from fleet.events.models import Day, Event, Group, Layout
from fleet.garage.models import Bike, Instrument, WheelPair
from fleet.history.lines import Line
from fleet.inventory.models import Lot, Tire
from fleet.trials.models import TireTest

NAMED: Final[dict[type[models.Model], tuple[str, ...]]] = {
    Bike: (),
    WheelPair: ("bike",),
    Tire: ("spec__line",),
    TireSpec: ("line",),
    Instrument: (),
    Organisation: (),
    Event: (),
    Day: ("event",),
    Group: (),
    Layout: ("track",),
    Lot: (),
    TireTest: (),
}
"""What is called by its name, with what its name is made of."""


def names_in(lines: Iterable[Line]) -> dict[uuid.UUID, str]:
    """Return the names of the things some lines are about or mention: a query for each kind, however many lines."""
    wanted = {found for line in lines for found in _ids(line)}
    return {
        row.pk: str(row)
        for model, related in NAMED.items()
        for row in model._base_manager.select_related(*related).filter(pk__in=wanted)  # noqa: SLF001 -- documented
    }


def id_in(line: Line, name: str, value: Any) -> uuid.UUID | None:
    """Return the id of the thing a value of a line refers to; text that somebody typed refers to nothing."""
    if not refers(line, name):
        return None
    if isinstance(value, uuid.UUID):
        return value
    try:
        return uuid.UUID(value) if isinstance(value, str) else None
    except ValueError:
        return None


def refers(line: Line, name: str) -> bool:
    """Return whether a column of what a line is about refers to another row."""
    return name in _references().get(line.noun, ())


@cache
def _references() -> dict[str, frozenset[str]]:
    return {
        noun_of(model): frozenset(field.name for field in model._meta.concrete_fields if field.is_relation)  # noqa: SLF001 -- documented
        for model in apps.get_models()
    }


def _ids(line: Line) -> Iterator[uuid.UUID]:
    yield line.row
    for values in (line.before, line.after):
        for name, value in values.items():
            if found := id_in(line, name, value):
                yield found
