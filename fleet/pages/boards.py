"""A bulletin as people read it: a row for each tire, a column for each group."""

from dataclasses import dataclass, field
from typing import Any, Final

SOME_ROWS: Final = 12
MANY_ROWS: Final = 22


@dataclass
class BoardRow:
    """One tire on the board: its size, and a line for each group."""

    axle: str
    size: str
    compound: str
    uses_warmers: bool
    hot_target_kpa: float
    cells: list[dict[str, Any] | None] = field(default_factory=list)


@dataclass
class BoardPart:
    """One tire line on the board with its rows, front before rear."""

    name: str
    rows: list[BoardRow] = field(default_factory=list)


@dataclass(frozen=True)
class Board:
    """A bulletin as people read it: a row for each tire, a column for each group."""

    groups: list[str]
    parts: list[BoardPart]
    has_limits: bool
    is_thin: bool

    @property
    def length(self) -> str:
        """Return in a word how many rows a screen has to hold."""
        rows = sum(len(part.rows) for part in self.parts)
        return "is-longer" if rows > MANY_ROWS else "is-long" if rows > SOME_ROWS else ""


def board_of(content: dict[str, Any]) -> Board:
    """Return the lines of a bulletin by tire and group, in the order they were issued."""
    lines = content["lines"]
    groups = list(dict.fromkeys(line["group"] for line in lines))
    parts: dict[str, BoardPart] = {}
    rows: dict[tuple[str, bool], BoardRow] = {}
    for line in sorted(lines, key=lambda one: (one["maker"], one["line"], one["axle"], one["size"])):
        name = f"{line['maker']} {line['line']}"
        part = parts.setdefault(name, BoardPart(name))
        key = (line["spec"], line["uses_warmers"])
        if key not in rows:
            rows[key] = BoardRow(
                line["axle"], line["size"], line["compound"], line["uses_warmers"], line["hot_target_kpa"],
                [None] * len(groups),
            )  # fmt: skip
            part.rows.append(rows[key])
        rows[key].cells[groups.index(line["group"])] = line
    return Board(
        groups,
        list(parts.values()),
        has_limits=any(line["limit_hit"] for line in lines),
        is_thin=any(line["readings"] == 0 for line in lines),
    )
