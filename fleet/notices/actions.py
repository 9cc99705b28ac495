"""Telling people something, once."""

from collections.abc import Iterable
from datetime import datetime

from fleet.accounts.models import Person
from fleet.notices.models import Notice


def tell(
    people: Iterable[Person], *, topic: str, about: str, sentence: str, at: datetime, address: str = ""
) -> None:
    """Store one notice for each person; who was told about the same fact before is not told again."""
    Notice.objects.bulk_create(
        [
            Notice(person=person, topic=topic, about=about, sentence=sentence, address=address, told_at=at)
            for person in people
        ],
        ignore_conflicts=True,
    )


def mark_read(*, by: Person, at: datetime) -> int:
    """Mark everything told to a person as read; the count is returned."""
    return Notice.objects.filter(person=by, read_at__isnull=True).update(read_at=at)
