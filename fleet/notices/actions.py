"""Telling people something, once, in the ways they chose."""

from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import Final

from django.db import transaction

from fleet.accounts.models import Person
from fleet.accounts.trail import correct, note_made
from fleet.celery import wake
from fleet.errors import Invalid
from fleet.notices.models import Kind, Notice, TellingChoice
from fleet.notices.queries import DEFAULTS, Ways, ways_for
from fleet.records import store

SEND: Final = "fleet.notices.tasks.send_mails"


def tell(
    people: Iterable[Person], *, topic: str, about: str, sentence: str, at: datetime, address: str = ""
) -> None:
    """Store one notice for each person; who was told about the same fact before is not told again.

    Whoever wants it by e-mail gets one from a job, so that nothing here waits for a mail service.
    """
    ways = ways_for(people, topic)
    Notice.objects.bulk_create(
        [
            Notice(
                person=person,
                topic=topic,
                about=about,
                sentence=sentence,
                address=address,
                told_at=at,
                on_page=way.on_page,
                mail=Notice.Mail.WAITING if way.by_mail else Notice.Mail.NONE,
            )
            for person, way in ways.items()
        ],
        ignore_conflicts=True,
    )
    if any(way.by_mail for way in ways.values()):
        wake(SEND)


def mark_read(*, by: Person, at: datetime, notice: Notice | None = None) -> int:
    """Mark one notice of a person as read, or everything told to them; the count is returned."""
    unread = Notice.objects.filter(person=by, read_at__isnull=True)
    return (unread if notice is None else unread.filter(pk=notice.pk)).update(read_at=at)


@transaction.atomic
def choose_telling(*, by: Person, ways: Mapping[str, Ways]) -> None:
    """Set how a person is told about some kinds of things; what can hurt always stands on the page."""
    for kind, way in ways.items():
        if kind not in DEFAULTS:
            raise Invalid(
                f"{kind!r} is nothing to be told about: use {', '.join(Kind.values)}.", field="kind"
            )
        if kind == Kind.STOP and not way.on_page:
            raise Invalid("A tire that must not be used is always said on the page.", field="on_page")
        chosen = TellingChoice.objects.filter(person=by, kind=kind).first()
        if chosen is None:
            made = store(TellingChoice(person=by, kind=kind, on_page=way.on_page, by_mail=way.by_mail))
            note_made(made, by=by, person=by)
        else:
            correct(chosen, {"on_page": way.on_page, "by_mail": way.by_mail}, by=by, person=by)
