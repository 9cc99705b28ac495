"""Reads of what was told, and of what people want to be told."""

from collections.abc import Iterable, Mapping
from typing import Final, NamedTuple

from django.db.models import QuerySet

from fleet.accounts.models import Person
from fleet.notices.models import Kind, Notice, TellingChoice


class Ways(NamedTuple):
    """How somebody is told."""

    on_page: bool
    by_mail: bool


DEFAULTS: Final[Mapping[str, Ways]] = {
    Kind.STOP: Ways(on_page=True, by_mail=True),
    Kind.LIFE: Ways(on_page=True, by_mail=False),
    Kind.BULLETIN: Ways(on_page=True, by_mail=False),
    Kind.RESERVED: Ways(on_page=True, by_mail=False),
}
"""How whoever never chose is told: on the page, and what can hurt also by e-mail."""
KIND_OF: Final[Mapping[str, str]] = {
    "recall": Kind.STOP,
    "stand down": Kind.STOP,
    "flag": Kind.LIFE,
    "lasting": Kind.LIFE,
    "bulletin": Kind.BULLETIN,
    "reservation": Kind.RESERVED,
}
"""What the topics of the subjects above are to whoever chooses."""


def notices_for(by: Person) -> QuerySet[Notice]:
    """Return a person's notices that they want to see, the newest first."""
    return Notice.objects.filter(person=by, on_page=True).order_by("-told_at", "id")


def ways_of(person: Person) -> dict[str, Ways]:
    """Return how a person is told about each kind of thing."""
    chosen = TellingChoice.objects.filter(person=person)
    return {**DEFAULTS, **{one.kind: Ways(one.on_page, one.by_mail) for one in chosen}}


def ways_for(people: Iterable[Person], topic: str) -> dict[Person, Ways]:
    """Return how each of some people is told about a topic, in one query."""
    everybody, kind = list(people), KIND_OF[topic]
    chosen = {
        one.person_id: Ways(one.on_page, one.by_mail)
        for one in TellingChoice.objects.filter(person__in=everybody, kind=kind)
    }
    return {person: chosen.get(person.pk, DEFAULTS[kind]) for person in everybody}
