"""Lines of a history as its reader may see them: who, as far as they may know, and what it was before and after."""

import uuid
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from operator import attrgetter
from typing import Any, Final

from fleet.accounts.models import Change, Membership, Organisation, Person
from fleet.garage.models import Rider
from fleet.history.sources import BY_NOUN, Source
from fleet.records import Fact

RECORDED: Final = "recorded"
VOIDED: Final = "voided"
CHANGE: Final = "change"
CHANGE_NAMES: Final = ("by", "api_key", "on_behalf_of", "organisation")
Key = tuple[datetime, uuid.UUID, str, str]


@dataclass(frozen=True)
class Line:
    """One thing that was done: when, by whom and on whose behalf, to what, and what stood there before and after."""

    at: datetime
    what: str
    noun: str
    row: uuid.UUID
    by: str
    is_own: bool
    on_behalf_of: Organisation | None
    api_key: str | None
    before: dict[str, Any] = field(default_factory=dict)
    after: dict[str, Any] = field(default_factory=dict)


@dataclass(frozen=True)
class Reader:
    """Who reads, the organisations whose history they read, and where everybody named works."""

    person: Person
    organisations: set[uuid.UUID]
    works_at: dict[uuid.UUID, list[Organisation]]

    def is_mine(self, rider: Rider | None) -> bool:
        """Return whether a rider's record is the reader's own."""
        return rider is not None and rider.person_id == self.person.pk

    def employer(
        self, author: Person | None, known: Organisation | None, rider: Rider | None
    ) -> Organisation | None:
        """Return for whom somebody wrote a fact: its organisation where they work there, else, to the rider, their only one."""
        if author is None or author.pk == self.person.pk:
            return known if author is not None and known in self.works_at[author.pk] else None
        works_at = self.works_at[author.pk]
        if known in works_at:
            return known
        return works_at[0] if len(works_at) == 1 and self.is_mine(rider) else None

    def named(
        self,
        author: Person | None,
        behalf: Organisation | None,
        known: Organisation | None,
        rider: Rider | None,
    ) -> str:
        """Return who did it, as far as the reader may know: staff by name and organisation, a rider as the rider."""
        if author is None:
            return "the service"
        if author.pk == self.person.pk:
            return author.name
        if behalf is not None:
            return f"{author.name}, {behalf.name}"
        if rider is not None and rider.person_id == author.pk:
            return "the rider"
        if self.works_at[author.pk]:
            return author.name if self.is_mine(rider) else "somebody else"
        return f"somebody at {known.name}" if known else "somebody else"

    def key_name(self, line: Change) -> str | None:
        """Return the name of the key used, to those who look after it."""
        key = line.api_key
        if key is None or not (key.person_id == self.person.pk or key.organisation_id in self.organisations):
            return None
        return key.name


def lines_of(keys: Sequence[Key], person: Person, own: set[uuid.UUID]) -> list[Line]:
    """Return the lines of some keys in their order: a query for each kind of fact, and for where authors work."""
    ids: dict[str, set[uuid.UUID]] = defaultdict(set)
    for _, pk, _, source in keys:
        ids[source].add(pk)
    changes = Change.objects.select_related(*CHANGE_NAMES).in_bulk(ids.pop(CHANGE, set()))
    riders = Rider.objects.in_bulk({line.rider for line in changes.values() if line.rider})
    facts = {noun: _facts(BY_NOUN[noun], some) for noun, some in ids.items()}
    authors = {one.by_id for one in changes.values()}
    for rows in facts.values():
        authors |= {row.recorded_by_id for row in rows.values()} | {row.voided_by_id for row in rows.values()}
    reader = Reader(person, own, _works_at(authors))
    return [
        _of_change(changes[pk], riders, reader)
        if source == CHANGE
        else _of_fact(BY_NOUN[source], facts[source][pk], what, at, reader)
        for at, pk, what, source in keys
    ]


def _facts(source: Source, some: Iterable[uuid.UUID]) -> dict[uuid.UUID, Fact]:
    paths = [path for path in (source.organisation, source.rider) if path]
    return source.model.objects.select_related("recorded_by", "voided_by", *paths).in_bulk(some)


def _works_at(people: Iterable[uuid.UUID | None]) -> dict[uuid.UUID, list[Organisation]]:
    found: dict[uuid.UUID, list[Organisation]] = defaultdict(list)
    rows = Membership.objects.filter(person__in=[one for one in people if one])
    for membership in rows.select_related("organisation").order_by("organisation__name"):
        if membership.organisation not in found[membership.person_id]:
            found[membership.person_id].append(membership.organisation)
    return found


def _of_change(line: Change, riders: dict[uuid.UUID, Rider], reader: Reader) -> Line:
    rider = riders.get(line.rider) if line.rider else None
    return Line(
        at=line.at,
        what=line.what,
        noun=line.noun,
        row=line.row,
        by=reader.named(line.by, line.on_behalf_of, line.organisation, rider),
        is_own=line.by_id == reader.person.pk,
        on_behalf_of=line.on_behalf_of,
        api_key=reader.key_name(line),
        before=line.before,
        after=line.after,
    )


def _of_fact(source: Source, row: Fact, what: str, at: datetime, reader: Reader) -> Line:
    author = row.recorded_by if what == RECORDED else row.voided_by
    known, rider = _along(row, source.organisation), _along(row, source.rider)
    behalf = reader.employer(author, known, rider)
    content = source.content(row)
    return Line(
        at=at,
        what=what,
        noun=source.noun,
        row=row.pk,
        by=reader.named(author, behalf, known, rider),
        is_own=author is not None and author.pk == reader.person.pk,
        on_behalf_of=behalf,
        api_key=None,
        before={} if what == RECORDED else content,
        after=content if what == RECORDED else {"void_reason": row.void_reason},
    )


def _along(row: Fact, path: str) -> Any:
    return attrgetter(path.replace("__", "."))(row) if path else None
