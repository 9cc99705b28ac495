"""Reads of the history: one list, newest first, of what was changed and of facts recorded and voided.

Riders see all that concerns them, an organisation's stock managers and directors all that is its own matter. Where a page ends
is a mark; the next page begins after it. The number of queries depends on the kinds of facts on a page, not on the rows.
"""

import uuid
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime
from functools import reduce
from typing import Any, NamedTuple

from django.db.models import F, Q, QuerySet, Value

from fleet.accounts.models import Change, Organisation, Person
from fleet.accounts.policy import Right, organisations
from fleet.garage.models import Rider
from fleet.garage.queries import own_rider
from fleet.history.lines import RECORDED, VOIDED, Line, lines_of
from fleet.history.sources import SOURCES, Source
from fleet.inventory.ownership import theirs_then


class Mark(NamedTuple):
    """Where a page ended: the moment, the row and the word of its last line."""

    at: datetime
    pk: uuid.UUID
    what: str


@dataclass(frozen=True)
class Wanted:
    """What of the history somebody wants to see; what is left out narrows nothing."""

    noun: str = ""
    about: uuid.UUID | None = None
    what: str = ""
    since: datetime | None = None
    until: datetime | None = None
    after: Mark | None = None


@dataclass(frozen=True)
class Owner:
    """Who asks, with what is theirs: their rider record and the organisations whose history they read."""

    person: Person
    rider: uuid.UUID | None
    organisations: tuple[uuid.UUID, ...]


def owner_of(by: Person) -> Owner:
    """Return what somebody may read the history of."""
    rider = own_rider(by)
    own = organisations(by, Right.READ_HISTORY).order_by("name").values_list("pk", flat=True)
    return Owner(by, rider.pk if rider else None, tuple(own))


def history_for(by: Person, *, wanted: Wanted, rows: int) -> tuple[list[Line], Mark | None]:
    """Return a page of the history somebody may read, and the mark of the next page where there is one."""
    owner = owner_of(by)
    parts = [*_changes(owner, wanted), *_facts(owner, wanted)]
    if not parts:
        return [], None
    union: QuerySet[Any, Any] = parts[0].union(*parts[1:])
    keys = list(union.order_by("-at", "-pk", "-what")[: rows + 1])
    more = len(keys) > rows
    keys = keys[:rows]
    last = keys[-1] if more else None
    return lines_of(keys, owner.person, set(owner.organisations)), Mark(*last[:3]) if last else None


def readable_organisations(by: Person) -> QuerySet[Organisation]:
    """Return the organisations whose history somebody reads."""
    return organisations(by, Right.READ_HISTORY).order_by("name")


def _changes(owner: Owner, wanted: Wanted) -> Iterator[QuerySet[Any, Any]]:
    rows = Change.objects.order_by()
    if wanted.noun:
        rows = rows.filter(noun=wanted.noun)
    if wanted.what:
        rows = rows.filter(what=wanted.what)
    if wanted.about:
        rows = rows.filter(row=wanted.about)
    whose = [Q(person=owner.person)]
    if owner.rider:
        whose.append(Q(rider=owner.rider))
    if owner.organisations:
        whose += [Q(organisation__in=owner.organisations), Q(on_behalf_of__in=owner.organisations)]
    for condition in whose:
        found = rows.filter(condition).annotate(read_from=Value("change"))
        yield _within(found, wanted, "at").values_list("at", "pk", "what", "read_from")


def _facts(owner: Owner, wanted: Wanted) -> Iterator[QuerySet[Any, Any]]:
    for source in SOURCES:
        if wanted.noun and wanted.noun != source.noun:
            continue
        for condition in _own(owner, source):
            rows = source.model.objects.filter(condition, *_about(source, wanted.about)).order_by()
            for what, column in ((RECORDED, "recorded_at"), (VOIDED, "voided_at")):
                if wanted.what and wanted.what != what:
                    continue
                found = rows.filter(**{f"{column}__isnull": False}).annotate(
                    at=F(column), what=Value(what), read_from=Value(source.noun)
                )
                yield _within(found, wanted, "at", what).values_list("at", "pk", "what", "read_from")


def _own(owner: Owner, source: Source) -> Iterator[Q]:
    """Yield the conditions for facts of one kind that are somebody's own, each one a search by itself."""
    if source.tire_held and owner.rider:
        yield theirs_then(Rider.objects.filter(pk=owner.rider), source.tire_held)
    elif source.rider and owner.rider:
        yield Q(**{source.rider: owner.rider})
    if source.organisation and owner.organisations:
        yield Q(**{f"{source.organisation}__in": owner.organisations})


def _about(source: Source, row: uuid.UUID | None) -> Iterable[Q]:
    if row is None:
        return ()
    return (reduce(lambda one, path: one | Q(**{path: row}), source.about, Q(pk=row)),)


def _within(rows: QuerySet[Any], wanted: Wanted, column: str, what: str | None = None) -> QuerySet[Any]:
    """Narrow rows to the time wanted and to those after the mark; the word is a column, or the same for all rows."""
    if wanted.since:
        rows = rows.filter(**{f"{column}__gte": wanted.since})
    if wanted.until:
        rows = rows.filter(**{f"{column}__lt": wanted.until})
    if mark := wanted.after:
        same_row = Q(pk=mark.pk) & (Q(what__lt=mark.what) if what is None else _always(what < mark.what))
        rows = rows.filter(Q(at__lt=mark.at) | Q(at=mark.at) & (Q(pk__lt=mark.pk) | same_row))
    return rows


def _always(is_so: bool) -> Q:  # noqa: FBT001 -- the truth itself is what is turned into a condition
    return Q() if is_so else Q(pk__in=[])
