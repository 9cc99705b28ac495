"""``manage.py backup FILE``: write the whole database into one file, while the service goes on."""

from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from fleet.errors import Refusal
from fleet.exchange.backups import back_up


class Command(BaseCommand):
    """Write the whole database into one file."""

    help = "Write every row of the database into one new file; restore puts it back."

    def add_arguments(self, parser: CommandParser) -> None:
        """Declare the file."""
        parser.add_argument("file", type=Path, help="a new file, such as fleet-2026-06-12.zip")

    def handle(self, *args: Any, **options: Any) -> None:
        """Back up, and say where."""
        file: Path = options["file"]
        try:
            back_up(file, at=timezone.now())
        except (Refusal, OSError) as error:
            raise CommandError(str(error)) from error
        self.stdout.write(
            f"{file} holds the database, {file.stat().st_size / 1e6:.1f} MB. Keep FLEET_SECRET_KEY with it, elsewhere: second "
            "factors are encrypted with that key."
        )
