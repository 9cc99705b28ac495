"""A day's roster as a list: looked at first, with what each row would change, then taken as a whole."""

import uuid
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Any, Final

from django.db import transaction
from django.db.models import QuerySet

from fleet.accounts.models import Person
from fleet.accounts.policy import Right, organisations, require
from fleet.celery import quiet
from fleet.errors import Conflict, Invalid, Refusal
from fleet.events.actions import correct_entry, enter_as
from fleet.events.known_riders import SOMEBODY_NEW, Choice, KnownRiders, Match
from fleet.events.models import Day, Entry, Group
from fleet.exchange.columns import Column, Sheet
from fleet.exchange.faults import Fault
from fleet.exchange.kinds import CODE, TEXT, YES_NO
from fleet.exchange.models import ERASED_CELL, Upload
from fleet.exchange.reading import Line, read_records
from fleet.exchange.roster_columns import named
from fleet.exchange.uploads import records_of
from fleet.records import store
from fleet.revisions import raised_together

MOST_RIDERS: Final = 1000
LONGEST: Final = {"number": 6, "name": 100, "bike": 60, "contact": 120}
ERASED_SINCE: Final = (
    "Whoever stood here had everything about them erased since: send the list again without this line."
)
ROSTER: Final = Sheet(
    name="roster",
    about="Who rides on one day.",
    columns=(
        Column("number", TEXT, "Number on the bike."),
        Column("name", TEXT, "The rider's name."),
        Column("group", TEXT, "One of the event's groups."),
        Column("bike", TEXT, "What they ride, by its class, such as 600 sport.", required=False),
        Column("warmers", YES_NO, "Whether tire warmers are used.", required=False, default=False),
        Column("contact", TEXT, "How to reach them; it also tells two of one name apart.", required=False),
        Column("rider", CODE, "The rider's own code, where you know it.", required=False),
    ),
    identity=("number",),
    rows=Entry.objects.none,
    add=enter_as,
)


class RosterTaken(Conflict):
    """A roster that was taken before."""

    code = "roster-taken-before"


@dataclass
class RosterRow:
    """One row of a roster: what it says, who that may be, and what taking it would do.

    ``does`` is one of ``new``, ``known``, ``decide``, ``changed``, ``as it is``; nothing where the row has a fault. ``said`` is
    the row as it was sent, where it could not be read.
    """

    line: int
    cells: dict[str, Any]
    group: Group | None = None
    choices: list[Choice] = field(default_factory=list)
    does: str = ""
    entry: Entry | None = None
    said: str = ""
    riding: dict[uuid.UUID, Entry] = field(default_factory=dict)
    faults: list[Fault] = field(default_factory=list)

    def changes_of(self, entry: Entry) -> dict[str, Any]:
        """Return what this row says otherwise than an entry there is."""
        cells = self.cells
        wanted = {"group": self.group, "number": cells["number"], "uses_warmers": cells["warmers"]}
        return {name: value for name, value in wanted.items() if getattr(entry, name) != value}

    def offered(self) -> list[tuple[Choice, Entry | None]]:
        """Return the choices of a doubtful row, each with the entry that bike has on this day already."""
        return [(choice, self.riding.get(choice.bike.pk) if choice.bike else None) for choice in self.choices]

    def wrong(self, column: str, sentence: str) -> None:
        """Add what is wrong with this row."""
        self.faults.append(Fault(ROSTER.file, self.line, column, sentence))


@dataclass(frozen=True)
class Roster:
    """A list as it would be taken: its rows, and what is wrong with it as a whole."""

    rows: list[RosterRow]
    whole: list[Fault]

    @property
    def faulty(self) -> list[RosterRow]:
        """Return the rows that cannot be taken."""
        return [row for row in self.rows if row.faults]

    @property
    def doubtful(self) -> list[RosterRow]:
        """Return the rows somebody has to decide."""
        return [row for row in self.rows if row.does == "decide" and not row.faults]

    @property
    def plain(self) -> list[RosterRow]:
        """Return the rows that can be taken as they stand."""
        return [row for row in self.rows if row.does != "decide" and not row.faults]

    @property
    def is_ready(self) -> bool:
        """Return whether the list can be taken, once what is doubtful is decided."""
        return bool(self.rows) and not self.faulty and not self.whole

    def counted(self) -> dict[str, int]:
        """Return how many rows do what."""
        words = ("new", "known", "decide", "changed", "as it is")
        return {word: sum(row.does == word for row in self.rows) for word in words}


def keep_roster(*, by: Person, at: datetime, day: Day, name: str, data: bytes) -> Upload:
    """Store a list's rows to look at; nobody is entered by it yet."""
    organiser = day.event.organiser
    require(by, Right.EDIT_EVENT, organiser)
    records = named(records_of(data, name)).records
    if len(records) > MOST_RIDERS + 1:
        raise Invalid(
            f"The list has more than {MOST_RIDERS} riders: a day has fewer. Split it.", field="file"
        )
    rows = [[number, cells] for number, cells in records]
    return store(
        Upload(person=by, organisation=organiser, day=day, file_name=name[-100:], rows=rows, made_at=at)
    )


def rosters_for(by: Person) -> QuerySet[Upload]:
    """Return the rosters somebody sent for days they may edit."""
    return Upload.objects.filter(
        person=by, day__isnull=False, organisation__in=organisations(by, Right.EDIT_EVENT)
    ).select_related("organisation", "day__event__organiser", "day__layout__track")


def roster_of(upload: Upload) -> Roster:
    """Return a kept list with what each row would do to its day."""
    day: Day = upload.day  # type: ignore[assignment]  # rosters have one
    left = [(number, cells) for number, cells in upload.rows if cells != [ERASED_CELL]]
    reading = read_records(iter(left), ROSTER)
    known = KnownRiders(day)
    groups = {group.name.casefold(): group for group in day.event.groups.all()}
    entries = list(day.entries.select_related("rider", "bike", "group", "day__event__organiser"))
    rows = [_row(line, known, groups, entries) for line in reading.lines]
    _refuse_two_on_a_bike(rows)
    by_line: dict[int, list[Fault]] = {}
    for fault in reading.faults:
        by_line.setdefault(fault.line, []).append(fault)
    for number in {number for number, _ in upload.rows} - {number for number, _ in left}:
        by_line[number] = [Fault(ROSTER.file, number, "name", ERASED_SINCE)]
    whole = by_line.pop(upload.rows[0][0], []) if upload.rows else []
    at = {row.line: row for row in rows}
    sent = {number: ", ".join(cell for cell in cells if cell) for number, cells in left}
    for number, faults in by_line.items():
        row = at.setdefault(number, RosterRow(number, {}, said=sent.get(number, "")))
        row.faults += faults
        row.does = ""
    return Roster([at[number] for number in sorted(at)], whole)


@transaction.atomic
def take_roster(*, by: Person, at: datetime, upload: Upload, decided: Mapping[int, str]) -> dict[str, int]:
    """Enter every rider of a list, or nobody: the first row that is refused is named with its line.

    ``decided`` holds by line which choice is meant where a row is doubtful. Returns how many rows did what.
    """
    day: Day = upload.day  # type: ignore[assignment]  # rosters have one
    require(by, Right.EDIT_EVENT, day.event.organiser)
    if not Upload.objects.filter(pk=upload.pk, taken_at__isnull=True).update(taken_at=at):
        raise RosterTaken("This roster was taken already; it is taken once.")
    Day.objects.select_for_update(no_key=True).get(pk=day.pk)
    roster = roster_of(upload)
    for fault in (*roster.whole, *(fault for row in roster.faulty for fault in row.faults)):
        raise Refusal(f"Line {fault.line}: {fault.sentence}")
    taken: dict[uuid.UUID, int] = {}
    with quiet(), raised_together():
        for row in roster.rows:
            entry = _take(row, by=by, day=day, decided=decided.get(row.line, ""))
            if entry.pk in taken:
                raise Refusal(
                    f"Line {row.line}: that is the rider and the bike of line {taken[entry.pk]} already."
                )
            taken[entry.pk] = row.line
    Upload.objects.filter(pk=upload.pk).update(rows=[])  # names and contacts are not kept longer than needed
    return roster.counted()


def _take(row: RosterRow, *, by: Person, day: Day, decided: str) -> Entry:
    cells = row.cells
    try:
        choice = _decided(row, decided) if row.does == "decide" else row.choices[0]
        entry = row.entry or (row.riding.get(choice.bike.pk) if choice.bike else None)
        if entry is not None:
            changes = row.changes_of(entry)
            return correct_entry(by=by, entry=entry, **changes) if changes else entry
        return enter_as(
            by=by,
            day=day,
            choice=choice,
            name=cells["name"],
            bike=cells["bike"],
            contact=cells["contact"],
            group=row.group,  # type: ignore[arg-type]  # a row without one has a fault
            number=cells["number"],
            uses_warmers=cells["warmers"],
        )
    except Refusal as refusal:
        raise Refusal(f"Line {row.line}: {refusal.sentence}", field=refusal.field) from refusal


def _decided(row: RosterRow, decided: str) -> Choice:
    found = next((choice for choice in row.choices if choice.value == decided), None)
    if found is None:
        raise Invalid(f"who is {row.cells['name']}? Choose one, or say that it is somebody new.")
    return found


def _row(line: Line, known: KnownRiders, groups: Mapping[str, Group], entries: list[Entry]) -> RosterRow:
    cells = line.cells
    row = RosterRow(line.number, cells, group=groups.get(cells["group"].casefold()))
    for column, most in LONGEST.items():
        if len(cells[column]) > most:
            row.wrong(column, f"This is longer than {most} letters: shorten it.")
    if row.group is None:
        names = ", ".join(group.name for group in groups.values()) or "none yet: add one to the event first"
        row.wrong("group", f"There is no group “{cells['group'][:40]}”: the groups are {names}.")
    match = known.match(
        name=cells["name"], contact=cells["contact"], code=cells["rider"] or "", bike=cells["bike"]
    )
    if match.fault:
        row.wrong(match.column, match.fault)
        return row
    _compare(row, match, entries)
    if row.faults:
        row.does = ""
    return row


def _compare(row: RosterRow, match: Match, entries: list[Entry]) -> None:
    """Find what a row does beside the entries there are: who rides already keeps their entry, mended where it differs."""
    cells = row.cells
    by_bike = {entry.bike_id: entry for entry in entries}
    holder = next((entry for entry in entries if entry.number == cells["number"]), None)
    bikes = {choice.bike.pk for choice in match.choices if choice.bike}
    if not match.is_sure and holder is not None and holder.bike_id in bikes:
        # The number is on one of the bikes in question: that is who is meant.
        match = replace(
            match,
            is_sure=True,
            choices=[one for one in match.choices if one.bike and one.bike.pk == holder.bike_id],
        )
    row.choices = match.choices
    entry = by_bike.get(match.choices[0].bike.pk) if match.is_sure and match.choices[0].bike else None
    if holder is not None and (entry is None or holder.pk != entry.pk):
        row.wrong("number", f"{cells['number']} rides already: {holder.rider} on {holder.bike}.")
        return
    if entry is None:
        row.riding = {pk: entry for pk, entry in by_bike.items() if pk in bikes}
        row.does = "decide" if not match.is_sure else "new" if match.choices[0].rider is None else "known"
        return
    row.entry = entry
    row.does = "changed" if row.changes_of(entry) else "as it is"


def _refuse_two_on_a_bike(rows: list[RosterRow]) -> None:
    first: dict[uuid.UUID, int] = {}
    for row in rows:
        bike = row.choices[0].bike if len(row.choices) == 1 else None
        if bike is None:
            continue
        if bike.pk in first:
            row.wrong(
                "name",
                f"Line {first[bike.pk]} enters the same rider on the same bike: give a bike of their own to each row, or keep one.",
            )
        first.setdefault(bike.pk, row.line)


__all__ = ["ROSTER", "SOMEBODY_NEW", "keep_roster", "roster_of", "rosters_for", "take_roster"]
