"""What commands show on the console: tables for people, progress for work that takes long."""

from collections.abc import Iterator
from typing import IO, cast

from django.core.management.base import OutputWrapper
from rich.console import Console
from rich.progress import Progress
from rich.table import Table


def show(table: Table, out: OutputWrapper) -> None:
    """Print a table; where nobody watches a terminal it is as wide as it needs."""
    stream = cast("IO[str]", out)
    width = None if out.isatty() else 200
    Console(file=stream, width=width).print(table)


def run_shown(steps: Iterator[tuple[int, int]], title: str, *, quiet: bool = False) -> None:
    """Run steps to their end, each saying how much of how much is done; the bar goes to the error stream."""
    with Progress(console=Console(stderr=True), transient=True, disable=quiet) as progress:
        bar = progress.add_task(title, total=None)
        for done, total in steps:
            progress.update(bar, completed=done, total=total)
