"""``manage.py serve``: web, worker and timetable in one go, ended by Ctrl-C."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from fleet.embedded.serving import CannotServe, serve


class Command(BaseCommand):
    """Run the whole service on this machine."""

    help = (
        "Run web, worker and timetable on this machine until Ctrl-C. With -v 2 everything they log is shown."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        """Declare where to listen."""
        parser.add_argument(
            "--host", default="127.0.0.1", help="address to listen on (default: this machine only)"
        )
        parser.add_argument("--port", default=8000, type=int, help="port to listen on (default: 8000)")

    def handle(self, *args: Any, **options: Any) -> None:
        """Serve until Ctrl-C."""
        try:
            serve(
                host=options["host"],
                port=options["port"],
                announcement="Open {address} in a browser. End with Ctrl-C.",
                quiet=options["verbosity"] < 2,  # noqa: PLR2004 -- Django's "verbose"
            )
        except CannotServe as refusal:
            raise CommandError(str(refusal)) from refusal
