"""``manage.py demo``: load an invented season, say how to sign in, and serve it."""

from argparse import ArgumentTypeError
from datetime import UTC, date, datetime, time
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone
from rich.console import Console

from fleet.demo.actions import PASSWORD, is_empty, load_season, run_jobs
from fleet.demo.names import RIDER_LOGIN, STAFF
from fleet.demo.scenario import ATTENDANCE
from fleet.exchange.showing import lines_of, shown_progress


class Command(BaseCommand):
    """Load the invented season into an empty database and serve it."""

    help = (
        "Prepare the database, load an invented season with an event tomorrow, and run web, worker and timetable. "
        "A database that holds riders is left as it is."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        """Declare what to load, and where to listen."""
        parser.add_argument("--load-only", action="store_true", help="load, but do not serve")
        parser.add_argument("--date", type=_date, help="day that counts as today, such as 2026-06-12")
        parser.add_argument("--folder", type=Path, help="where the season's CSV files are written")
        parser.add_argument(
            "--attendance",
            type=float,
            default=ATTENDANCE,
            help=f"share of the sixty riders on an ordinary day (default: {ATTENDANCE})",
        )
        parser.add_argument("--host", default="127.0.0.1", help="address to listen on")
        parser.add_argument("--port", default=8000, type=int, help="port to listen on")

    def handle(self, *args: Any, **options: Any) -> None:
        """Load, say how to sign in, serve."""
        if settings.PRODUCTION:
            raise CommandError(
                "The demo has known passwords: it is not loaded where FLEET_PRODUCTION is set."
            )
        now = timezone.now()
        if not 0 <= options["attendance"] <= 1:
            raise CommandError("The attendance is a share: give a number from 0 to 1.")
        today = options["date"] or now.date()
        if today > now.date():
            raise CommandError(f"{today} has not come yet: choose today or an earlier day.")
        at = now if today == now.date() else datetime.combine(today, time(18, 0), UTC)
        call_command("migrate", verbosity=0)
        if is_empty():
            folder = options["folder"] or settings.DATA_DIR / "demo"
            self.load(folder, today=today, at=at, attendance=options["attendance"])
        else:
            self.say("The database holds riders already: nothing was loaded.")
        self.say_logins()
        if not options["load_only"]:
            call_command("serve", host=options["host"], port=options["port"])

    def load(self, folder: Path, *, today: date, at: datetime, attendance: float) -> None:
        """Load the season, then run the jobs once."""
        self.say(f"Loading an invented season up to {today}, with an event on the day after ...")
        with shown_progress(Console(stderr=True), "importing") as progress:
            report = load_season(folder, today=today, at=at, attendance=attendance, progress=progress)
        if not report.is_done:
            raise CommandError("\n".join(lines_of(report)))
        rows = sum(one.added for one in report.outcomes)
        self.say(f"{rows} rows imported. Learning, assessing and drafting ...")
        for what, count in run_jobs(at=at).items():
            self.say(f"  {count} {what}")

    def say_logins(self) -> None:
        """Print who can sign in."""
        self.say(f"Sign in with the password {PASSWORD} as")
        for email, what in (RIDER_LOGIN, *((email, what) for email, _name, _roles, what in STAFF)):
            self.say(f"  {email:<24} {what}")
        self.say("Everybody and everything in it is invented for the demo.")

    def say(self, line: str) -> None:
        """Print a line at once."""
        self.stdout.write(line)
        self.stdout.flush()


def _date(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError as error:
        raise ArgumentTypeError(f"{text!r} is no date: give one such as 2026-06-12") from error
