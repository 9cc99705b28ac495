"""``manage.py take_out CODE FILE``: write everything held about a rider as a zip archive."""

from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from fleet.accounts.policy import SERVICE
from fleet.errors import Refusal
from fleet.privacy.actions import take_out
from fleet.privacy.holder import find_rider


class Command(BaseCommand):
    """Write everything held about a rider as a zip archive."""

    help = "Write everything held about a rider, for somebody who asks on paper; only the file's owner can read it."

    def add_arguments(self, parser: CommandParser) -> None:
        """Declare whose data and where to."""
        parser.add_argument("code", help="the rider's code, as on the job ticket")
        parser.add_argument("file", type=Path, help="zip file to write; one that exists is refused")

    def handle(self, *args: Any, **options: Any) -> None:
        """Write the archive, and say where it is."""
        path: Path = options["file"]
        try:
            rider = find_rider(options["code"])
        except Refusal as refusal:
            raise CommandError(refusal.sentence) from refusal
        try:
            path.touch(mode=0o600, exist_ok=False)
            with path.open("wb") as file:
                take_out(by=SERVICE, at=timezone.now(), file=file, rider=rider)
        except FileExistsError as error:
            raise CommandError(f"{path} exists already: name another file.") from error
        except OSError as error:
            raise CommandError(f"Cannot write {path} ({error.strerror}): name another file.") from error
        self.stdout.write(f"Everything held about {rider} is in {path}: hand it to nobody else.")
