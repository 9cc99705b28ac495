"""A draft as the desk checks it: for each group a row for each tire, a column for each part of the day."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from fleet.catalogue.models import TireSpec
from fleet.events.models import Group
from fleet.pages.boards import when_of
from fleet.pressures.models import GuidanceLine, GuidancePart


@dataclass(frozen=True)
class PartHead:
    """A part of the day as a column is headed."""

    part: GuidancePart
    when: str


@dataclass
class TireRow:
    """One tire, and its line in each part; nothing where the group does not ride."""

    spec: TireSpec
    uses_warmers: bool
    lines: list[GuidanceLine | None]

    @property
    def some(self) -> GuidanceLine:
        """Return its first line, for what is the same in all of them."""
        return next(line for line in self.lines if line)


@dataclass
class GroupTable:
    """The tires of a group in the parts of the day it rides in."""

    group: Group
    heads: list[PartHead]
    rows: list[TireRow] = field(default_factory=list)


def heads_of(parts: Iterable[GuidancePart], zone: str) -> list[PartHead]:
    """Return the columns of a draft."""
    return [PartHead(part, when_of(part, zone)) for part in parts]


def tables_of(lines: Sequence[GuidanceLine], heads: list[PartHead]) -> list[GroupTable]:
    """Return the lines of a draft, in the order they come, by group and tire."""
    ridden: dict[object, set[object]] = defaultdict(set)
    for line in lines:
        ridden[line.group_id].add(line.part_id)
    tables: dict[object, GroupTable] = {}
    rows: dict[object, TireRow] = {}
    for line in lines:
        own = [head for head in heads if head.part.pk in ridden[line.group_id]]
        table = tables.setdefault(line.group_id, GroupTable(line.group, own))
        key = (line.group_id, line.spec_id, line.uses_warmers)
        if key not in rows:
            rows[key] = TireRow(line.spec, line.uses_warmers, [None] * len(own))
            table.rows.append(rows[key])
        place = next(place for place, head in enumerate(own) if head.part.pk == line.part_id)
        rows[key].lines[place] = line
    return list(tables.values())
