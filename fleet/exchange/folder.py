"""The exchange folder as a whole: its files, in the order in which they build on one another."""

from typing import Final

from fleet.exchange.columns import Sheet
from fleet.exchange.rows import (
    accounts,
    answers,
    catalogue,
    comparisons,
    events,
    garage,
    handovers,
    inspections,
    recalls,
    reservations,
    running,
    stock,
    trials,
    wheels,
)

SHEETS: Final[tuple[Sheet, ...]] = (
    *accounts.SHEETS,
    *catalogue.SHEETS,
    *garage.SHEETS,
    *comparisons.SHEETS,
    *events.SHEETS,
    *stock.SHEETS,
    *reservations.SHEETS,
    *wheels.SHEETS,
    *inspections.SHEETS,
    *handovers.SHEETS,
    *recalls.SHEETS,
    *running.SHEETS,
    *answers.SHEETS,
    *trials.SHEETS,
)
BY_NAME: Final[dict[str, Sheet]] = {sheet.name: sheet for sheet in SHEETS}
BY_SHELF: Final[dict[str, Sheet]] = {sheet.shelf: sheet for sheet in SHEETS if sheet.shelf}


def bringing(shelf: str) -> str:
    """Return the files whose rows can be found on a shelf, for a sentence."""
    return " or ".join(
        one.file for one in SHEETS if shelf == one.shelf or shelf in {name for name, _ in one.brings}
    )


def builds_on(sheet: Sheet) -> set[str]:
    """Return the names of the files whose rows this one points to or needs, directly."""
    referred = {BY_SHELF[column.refers].name for column in sheet.columns if column.refers}
    return (referred | set(sheet.after)) - {sheet.name}


def rests_on(sheet: Sheet) -> set[str]:
    """Return the names of all files this one builds on, directly or through others."""
    found: set[str] = set()
    waiting = builds_on(sheet)
    while waiting:
        name = waiting.pop()
        found.add(name)
        waiting |= builds_on(BY_NAME[name]) - found
    return found


def described() -> str:
    """Return a Markdown table of every file and column."""
    lines = ["| file | column | kind | needed | meaning |", "|---|---|---|---|---|"]
    for sheet in SHEETS:
        lines.append(f"| **`{sheet.file}`** | | | | {sheet.about} |")
        for column in sheet.columns:
            needed = "yes" if column.required else _default(column.empty, sheet, column.name)
            kind = column.kind.right if column.kind.name == "word" else column.kind.name
            lines.append(f"| | `{column.name}` | {kind} | {needed} | {column.meaning} |")
    return "\n".join(lines) + "\n"


def described_briefly() -> str:
    """Return a Markdown table of every file with the names of its columns, those that may be empty in brackets."""
    lines = ["| file | what a row is | columns (may be empty) |", "|---|---|---|"]
    for sheet in SHEETS:
        names = [f"`{one.name}`" if one.required else f"(`{one.name}`)" for one in sheet.columns]
        lines.append(f"| `{sheet.file}` | {sheet.about} | {', '.join(names)} |")
    return "\n".join(lines) + "\n"


def _default(value: object, sheet: Sheet, name: str) -> str:
    if value in {None, ""}:
        return "no"
    return f"no: {sheet.column(name).kind.write(value)}"
