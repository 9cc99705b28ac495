"""What a file of an exchange folder is: its columns, where a cell comes from, and which action a row becomes."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime
from functools import reduce
from typing import Any, Final, TypeAlias

from django.db.models import Model, QuerySet

from fleet.accounts.policy import SERVICE
from fleet.exchange.kinds import KEY, MOMENT, TEXT, Kind

Row: TypeAlias = Any
Cells: TypeAlias = Mapping[str, Any]
Identity: TypeAlias = tuple[Any, ...]


@dataclass(frozen=True)
class Column:
    """One column: its kind, the stored value it shows (``take``) and the keyword of the action it fills (``gives``).

    ``default`` is what an empty cell stands for. ``refers`` names the shelf of ``known.py`` the cell points to, ``also`` the columns that come before it in that
    shelf's identity. A ``living`` column may differ in the service by the time a folder is imported again. A column
    that ``gives`` nothing only completes another one.
    """

    name: str
    kind: Kind
    meaning: str
    required: bool = True
    default: Any = None
    take: str | Callable[[Row], Any] = ""
    gives: str | None = None
    refers: str = ""
    also: tuple[str, ...] = ()
    living: bool = False

    @property
    def keyword(self) -> str:
        """Return the keyword of the action that this column fills, or nothing."""
        return self.name if self.gives is None else self.gives

    @property
    def empty(self) -> Any:
        """Return the value an empty cell stands for."""
        is_words = self.kind.is_text and not self.refers
        return "" if self.default is None and is_words else self.default

    def of(self, row: Row) -> Any:
        """Return the value of this column in a stored row."""
        if callable(self.take):
            return self.take(row)
        return reduce(_step, (self.take or self.name).split("."), row)


def _step(row: Row, name: str) -> Any:
    return None if row is None else getattr(row, name)


@dataclass(frozen=True)
class Ending:
    """What may come over a stored row later: a voiding, a lifting, a taking back; with its moment and its reason."""

    moment: str
    reason: str
    end: Callable[[Row, datetime, str], object]


@dataclass(frozen=True)
class Sheet:
    """One file of the folder.

    ``rows`` gives the stored rows; ``identity`` are the columns that tell rows apart;
    ``shelf`` is
    where later files find a new row, ``brings`` the shelves of things that came into being with it (shelf, attribute);
    ``after`` names further files this one builds on. Dated sheets (``phase`` above 0) are replayed together in the
    order in which their rows were recorded, the lower phase first where moments are equal.
    """

    name: str
    about: str
    columns: tuple[Column, ...]
    identity: tuple[str, ...]
    rows: Callable[[], "QuerySet[Any]"]
    add: Callable[..., Model]
    shelf: str = ""
    brings: tuple[tuple[str, str], ...] = ()
    after: tuple[str, ...] = ()
    phase: int = 0
    happened: str = ""
    endings: tuple[Ending, ...] = ()
    settle: Callable[[Row, Cells], object] | None = None

    @property
    def file(self) -> str:
        """Return the name of the file in the folder."""
        return f"{self.name}.csv"

    @property
    def is_fact(self) -> bool:
        """Whether the rows are facts with the client's own key as primary key."""
        return self.identity == ("key",)

    def column(self, name: str) -> Column:
        """Return a column by its name."""
        return next(column for column in self.columns if column.name == name)

    def named_by(self, keyword: str) -> str:
        """Return the name of the column that fills a keyword of the action, or nothing."""
        return next((one.name for one in self.columns if keyword and keyword in {one.keyword, one.name}), "")

    def cells_of(self, row: Row) -> dict[str, Any]:
        """Return the values of a stored row by column."""
        return {column.name: column.of(row) for column in self.columns}

    def identity_of(self, cells: Cells) -> Identity:
        """Return what tells this row apart from every other of its sheet."""
        return tuple(cells[name] for name in self.identity)


NO_KEYWORD: Final = ""

KEY_COLUMN: Final = Column(
    "key", KEY, "The fact's own key, chosen once by whoever recorded it.", take="pk", gives="key"
)
RECORDED: Final = Column(
    "recorded_at",
    MOMENT,
    "When it was written down; the moment of the import where it is empty.",
    required=False,
    gives=NO_KEYWORD,
    living=True,
)
VOIDED: Final = (
    Column(
        "voided_at",
        MOMENT,
        "When the fact was marked as wrong; empty while it stands.",
        required=False,
        gives=NO_KEYWORD,
        living=True,
    ),
    Column(
        "void_reason",
        TEXT,
        "Why it is wrong; given together with voided_at.",
        required=False,
        gives=NO_KEYWORD,
        living=True,
    ),
)


def fact_columns(*columns: Column) -> tuple[Column, ...]:
    """Return the columns of a dated fact: its key first, then its own, then when it was recorded and voided."""
    return (KEY_COLUMN, *columns, RECORDED, *VOIDED)


def thing(action: Callable[..., Model]) -> Callable[..., Model]:
    """Return how a row without a date becomes a call of its action by the service."""

    def add(*, at: datetime, **given: Any) -> Model:
        del at
        return action(by=SERVICE, **given)

    return add


def fact(action: Callable[..., Model]) -> Callable[..., Model]:
    """Return how a dated row becomes a call of its action by the service, at the moment it was recorded."""

    def add(*, at: datetime, **given: Any) -> Model:
        return action(by=SERVICE, at=at, **given)

    return add
