"""``manage.py guidance EVENT DAY``: the start pressures of a day as they stand now."""

import json
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from fleet.accounts.policy import SERVICE
from fleet.console import show
from fleet.errors import Refusal
from fleet.events.queries import find_day
from fleet.pressures.actions import draft_day
from fleet.pressures.queries import board_lines, rider_lines
from fleet.pressures.tables import guidance_data, guidance_table


class Command(BaseCommand):
    """Draft a day's guidance if anything changed, then print it."""

    help = "Start pressures of an event's day, by spec and group, or by entered rider."

    def add_arguments(self, parser: CommandParser) -> None:
        """Declare the options."""
        parser.add_argument("event", help="the event's code")
        parser.add_argument("day", help="the date, such as 2026-06-12")
        parser.add_argument(
            "--riders", action="store_true", help="each entered rider's own lines instead of the board's"
        )
        parser.add_argument(
            "--json", action="store_true", help="for programs: SI units, unit names in the keys"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        """Run the command."""
        try:
            day = find_day(options["event"], options["day"])
            guidance = draft_day(by=SERVICE, at=timezone.now(), day=day)
        except Refusal as refusal:
            raise CommandError(refusal.sentence) from refusal
        lines = list(rider_lines(guidance) if options["riders"] else board_lines(guidance))
        if options["json"]:
            self.stdout.write(json.dumps(guidance_data(guidance, lines), indent=2))
        else:
            show(guidance_table(guidance, lines), self.stdout)
