"""``manage.py doctor``: try each part of the installation, and say what is wrong and how to mend it."""

import json
import sys
from dataclasses import asdict
from typing import Any

from django.core.management.base import BaseCommand, CommandParser

from fleet.operating.doctor import examine


class Command(BaseCommand):
    """Say what is wrong with this installation and how to mend it."""

    help = "Try database, queue, disk, static files and mail; ends with 1 where something is wrong."
    requires_system_checks = ()
    requires_migrations_checks = False

    def add_arguments(self, parser: CommandParser) -> None:
        """Declare how to answer."""
        parser.add_argument("--json", action="store_true", help="answer with data for programs")

    def handle(self, *args: Any, **options: Any) -> None:
        """Examine, and show every finding."""
        found = list(examine())
        if options["json"]:
            self.stdout.write(json.dumps([asdict(one) for one in found], indent=2))
        else:
            for one in found:
                self.stdout.write(f"{'well ' if one.is_well else 'WRONG'}  {one.part}: {one.seen}")
                if one.mend:
                    self.stdout.write(f"       {one.mend}")
        if not all(one.is_well for one in found):
            sys.exit(1)
