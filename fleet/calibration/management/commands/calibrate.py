"""``manage.py calibrate``: play seasons with a known truth, and write down how well the figures kept their promises."""

from collections.abc import Iterator
from importlib.util import find_spec
from pathlib import Path
from typing import Any, Final

from django.core.management.base import BaseCommand, CommandError, CommandParser

from fleet.calibration.measures import Numbers, measure
from fleet.calibration.page import REPORT, write
from fleet.console import run_shown

SEASONS: Final = 40


class Command(BaseCommand):
    """Write the calibration page with its figures."""

    help = (
        "Play seasons with a richer truth than the models' and write the calibration page with its figures."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        """Declare how much to play and where to write."""
        parser.add_argument(
            "--seasons", type=int, default=SEASONS, help=f"seasons to play (default: {SEASONS})"
        )
        parser.add_argument("--into", type=Path, default=REPORT, help="folder for page and figures")

    def handle(self, *args: Any, **options: Any) -> None:
        """Play, write the numbers, the figures and the page."""
        if options["seasons"] < 1:
            raise CommandError("The number of seasons must be at least 1.")
        if find_spec("matplotlib") is None:
            raise CommandError("The figures need matplotlib: install this project with its test parts.")
        numbers: Numbers = {}

        def played() -> Iterator[tuple[int, int]]:
            numbers.update((yield from measure(options["seasons"])))

        run_shown(played(), "Playing seasons", quiet=options["verbosity"] == 0)
        write(numbers, options["into"])
        self.stdout.write(f"Wrote {options['into'] / 'README.md'} with its figures.")
