"""``manage.py export FOLDER``: write everything that was entered as an exchange folder."""

import json
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from rich.console import Console

from fleet.exchange.folder import SHEETS
from fleet.exchange.showing import shown_progress
from fleet.exchange.writing import export_folder


class Command(BaseCommand):
    """Write everything that was entered as an exchange folder."""

    help = (
        "Write a folder of CSV files that imports to the same facts; files of that name in it are replaced."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        """Declare the folder and how to answer."""
        parser.add_argument("folder", type=Path, help="folder to write to; it is made where it is missing")
        parser.add_argument("--json", action="store_true", help="answer with data for programs")

    def handle(self, *args: Any, **options: Any) -> None:
        """Export, and say how much."""
        folder: Path = options["folder"]
        try:
            with shown_progress(Console(stderr=True), "exporting") as progress:
                counts = export_folder(folder, progress=lambda done: progress(done, len(SHEETS)))
        except OSError as error:
            raise CommandError(
                f"Cannot write to {folder} ({error.strerror}): name another folder."
            ) from error
        if options["json"]:
            self.stdout.write(json.dumps({"folder": str(folder), "rows": counts}, indent=2))
        else:
            self.stdout.write(f"{sum(counts.values())} rows written to {len(counts)} files in {folder}.")
