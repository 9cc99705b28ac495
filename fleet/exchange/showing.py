"""What the command line says about an import: a table for people, plain data for programs, progress on long work."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any, Final

from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn
from rich.table import Table

from fleet.exchange.faults import Outcome, Report

MOST_FAULTS_SHOWN: Final = 200


@contextmanager
def shown_progress(console: Console, what: str) -> Iterator[Callable[[int, int], None]]:
    """Show a bar while a block works through a known number of rows; nothing where nobody looks."""
    columns = (TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn(), TimeRemainingColumn())
    with Progress(*columns, console=console, transient=True, disable=not console.is_terminal) as bar:
        task = bar.add_task(what, total=None)

        def progress(done: int, total: int) -> None:
            bar.update(task, completed=done, total=total)

        yield progress


def table_of(report: Report) -> Table:
    """Return what came of each file."""
    table = Table(box=None, pad_edge=False)
    table.add_column("file")
    for name in ("rows", "added", "there already", "voided or ended"):
        table.add_column(name, justify="right")
    table.add_column("")
    for one in report.outcomes:
        counts = (one.rows, one.added, one.there_already, one.ended)
        table.add_row(one.file, *(str(count) for count in counts), _remark(one))
    return table


def lines_of(report: Report) -> list[str]:
    """Return what is wrong, a line a fault, the first ones of very many."""
    faults = report.faults
    lines = [str(fault) for fault in faults[:MOST_FAULTS_SHOWN]]
    if len(faults) > MOST_FAULTS_SHOWN:
        lines.append(f"... and {len(faults) - MOST_FAULTS_SHOWN} more.")
    return lines


def as_data(report: Report) -> dict[str, Any]:
    """Return what came of a folder for programs."""
    return {
        "is_done": report.is_done,
        "files": [
            {
                "file": one.file,
                "is_done": one.is_done,
                "rows": one.rows,
                "added": one.added,
                "there_already": one.there_already,
                "ended": one.ended,
                "waits_for": one.waits_for,
            }
            for one in report.outcomes
        ],
        "faults": [
            {"file": one.file, "line": one.line, "column": one.column, "sentence": one.sentence}
            for one in report.faults
        ],
    }


def _remark(one: Outcome) -> str:
    if one.faults:
        return f"left out: {len(one.faults)} faults" if len(one.faults) > 1 else "left out: 1 fault"
    return f"left out: builds on {one.waits_for}" if one.waits_for else ""
