"""``manage.py gathered_notes``: reference notes that testers gathered; ``--share ID`` takes one over for everybody."""

import uuid
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from fleet.accounts.policy import SERVICE
from fleet.catalogue.actions import share_note
from fleet.catalogue.models import ReferenceNote
from fleet.errors import Refusal


class Command(BaseCommand):
    """List the notes that count in an organisation's own tests, or let one count in everybody's targets."""

    help = "Reference notes that testers gathered for their own tests; --share ID makes one everybody's."

    def add_arguments(self, parser: CommandParser) -> None:
        """Declare the options."""
        parser.add_argument("--share", metavar="ID", type=_id, help="the note that is to count for everybody")

    def handle(self, *args: Any, **options: Any) -> None:
        """Run the command."""
        rows = ReferenceNote.objects.select_related("spec__line", "organisation")
        if options["share"] is None:
            gathered = rows.filter(organisation__isnull=False).order_by(
                "organisation__code", "noted_on", "id"
            )
            for row in gathered:
                self.stdout.write(f"{row.pk}  {row.organisation}: {_said(row)}")
            self.stdout.write(f"{len(gathered)} notes count in tests alone.")
            return
        row_to_share = rows.filter(pk=options["share"]).first()
        if row_to_share is None:
            raise CommandError("There is no such note: the command without --share lists them.")
        try:
            share_note(by=SERVICE, gathered=row_to_share)
        except Refusal as refusal:
            raise CommandError(refusal.sentence) from refusal
        self.stdout.write(f"Counts for everybody from now on: {_said(row_to_share)}")


def _id(text: str) -> uuid.UUID:
    try:
        return uuid.UUID(text)
    except ValueError:
        raise CommandError(f"{text!r} is no id: the command without --share lists them.") from None


def _said(row: ReferenceNote) -> str:
    return f"{row.spec}, {row.pressure_kpa:g} kPa {row.get_basis_display().lower()}, {row.noted_on}, {row.source}"
