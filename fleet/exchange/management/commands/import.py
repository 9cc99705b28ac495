"""``manage.py import FOLDER``: bring an exchange folder in."""

import json
from argparse import ArgumentTypeError
from pathlib import Path
from typing import IO, Any, cast

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone
from rich.console import Console

from fleet.exchange.actions import import_folder
from fleet.exchange.folder import described, described_briefly
from fleet.exchange.showing import as_data, lines_of, shown_progress, table_of


class Command(BaseCommand):
    """Bring an exchange folder in, all or nothing of each file."""

    help = (
        "Bring a folder of CSV files in: all or nothing of each file, every bad row named. Rows that are stored already "
        "are left as they are, so running it twice changes nothing."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        """Declare the folder and how to answer."""
        parser.add_argument("folder", nargs="?", type=_folder, help="folder with the CSV files")
        parser.add_argument("--describe", action="store_true", help="print every file and column as Markdown")
        parser.add_argument("--brief", action="store_true", help="with --describe: a line a file")
        parser.add_argument("--json", action="store_true", help="answer with data for programs")

    def handle(self, *args: Any, **options: Any) -> None:
        """Import, and say what came of each file."""
        if options["describe"]:
            self.stdout.write(described_briefly() if options["brief"] else described(), ending="")
            return
        if options["folder"] is None:
            raise CommandError("Name the folder to import, or ask for the columns with --describe.")
        with shown_progress(Console(stderr=True), "importing") as progress:
            report = import_folder(options["folder"], at=timezone.now(), progress=progress)
        if options["json"]:
            self.stdout.write(json.dumps(as_data(report), indent=2))
        elif report.outcomes:
            Console(file=cast("IO[str]", self.stdout), width=110).print(table_of(report))
        if not report.outcomes and not report.stray:
            raise CommandError("The folder holds none of the files: see --describe for their names.")
        if not report.is_done:
            raise CommandError("\n".join([*lines_of(report), "Nothing of a file with a fault was stored."]))


def _folder(text: str) -> Path:
    path = Path(text)
    if not path.is_dir():
        raise ArgumentTypeError(f"{text} is no folder: name one that holds CSV files")
    return path
