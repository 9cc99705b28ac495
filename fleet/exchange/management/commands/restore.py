"""``manage.py restore FILE``: put the database back as a backup holds it; stop the service first."""

from pathlib import Path
from typing import Any

from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError, CommandParser

from fleet.errors import Refusal
from fleet.exchange.backups import restore


class Command(BaseCommand):
    """Put the database back as a backup holds it."""

    help = "Replace the database by what a backup holds, then bring it up to this version. Stop the service first."
    requires_migrations_checks = False

    def add_arguments(self, parser: CommandParser) -> None:
        """Declare the file, and the word that a database in use may be replaced."""
        parser.add_argument("file", type=Path, help="a file that backup wrote")
        parser.add_argument("--replace", action="store_true", help="replace a database that holds something")

    def handle(self, *args: Any, **options: Any) -> None:
        """Restore, migrate, and say from when it is."""
        try:
            about = restore(options["file"], replace=options["replace"])
        except Refusal as refusal:
            raise CommandError(refusal.sentence) from refusal
        call_command("migrate", interactive=False, verbosity=0)
        self.stdout.write(f"The database is as it was at {about['made_at']}. Start the service again.")
