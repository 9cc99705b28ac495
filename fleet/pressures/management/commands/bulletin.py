"""``manage.py bulletin EVENT DAY``: the bulletin in force; with ``--issue`` a person issues the next one."""

import json
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from fleet.accounts.models import Person
from fleet.accounts.policy import SERVICE
from fleet.console import show
from fleet.errors import Refusal
from fleet.events.queries import find_day
from fleet.pressures.actions import draft_day, issue_bulletin
from fleet.pressures.models import Bulletin
from fleet.pressures.queries import bulletin_in_force
from fleet.pressures.tables import bulletin_table


class Command(BaseCommand):
    """Print the bulletin in force, after issuing a new one where somebody asks for it by name."""

    help = "The bulletin in force of an event's day; --issue --by EMAIL issues the next one."

    def add_arguments(self, parser: CommandParser) -> None:
        """Declare the options."""
        parser.add_argument("event", help="the event's code")
        parser.add_argument("day", help="the date, such as 2026-06-12")
        parser.add_argument("--issue", action="store_true", help="draft what changed and issue it")
        parser.add_argument(
            "--by", metavar="EMAIL", help="the event director who issues: nothing is issued by nobody"
        )
        parser.add_argument(
            "--json", action="store_true", help="for programs: SI units, unit names in the keys"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        """Run the command."""
        try:
            day = find_day(options["event"], options["day"])
            bulletin = self._issued(day, options["by"]) if options["issue"] else bulletin_in_force(day)
        except Refusal as refusal:
            raise CommandError(refusal.sentence) from refusal
        if bulletin is None:
            raise CommandError(f"No bulletin is in force for {day}: issue one with --issue --by EMAIL.")
        if options["json"]:
            self.stdout.write(json.dumps({**bulletin.content, "digest": bulletin.digest}, indent=2))
        else:
            show(bulletin_table(bulletin), self.stdout)

    def _issued(self, day: Any, email: str | None) -> Bulletin:
        person = Person.objects.filter(email=(email or "").lower(), is_active=True).first()
        if person is None:
            raise CommandError(
                "A bulletin is issued by a person: give the event director's address with --by."
            )
        at = timezone.now()
        draft_day(by=SERVICE, at=at, day=day)
        return issue_bulletin(by=person, at=at, day=day)
