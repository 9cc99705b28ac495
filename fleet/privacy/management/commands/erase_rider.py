"""``manage.py erase_rider CODE``: erase what is personal of a rider, for good."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from fleet.accounts.policy import SERVICE
from fleet.errors import Refusal
from fleet.privacy.actions import erase
from fleet.privacy.holder import find_rider


class Command(BaseCommand):
    """Erase what is personal of a rider, for good."""

    help = (
        "Erase a rider's name, codes, words and account, for somebody who asks on paper; tire and safety facts stay as "
        "nobody's. This cannot be undone: take_out first, if they want a copy."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        """Declare whose data."""
        parser.add_argument("code", help="the rider's code, as on the job ticket")
        parser.add_argument("--yes", action="store_true", help="do not ask; for scripts")

    def handle(self, *args: Any, **options: Any) -> None:
        """Erase, after asking once more."""
        try:
            rider = find_rider(options["code"])
            if not options["yes"]:
                typed = input(
                    f"This erases {rider} for good and cannot be undone. Type the code {rider.code} to go on: "
                )
                if typed.strip() != rider.code:
                    raise CommandError("That is another code: nothing was erased.")
            erase(by=SERVICE, at=timezone.now(), rider=rider)
        except Refusal as refusal:
            raise CommandError(refusal.sentence) from refusal
        self.stdout.write(f"{options['code']} is erased. Tire and safety facts stay, as nobody's.")
