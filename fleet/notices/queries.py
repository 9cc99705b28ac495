"""Reads of what was told."""

from django.db.models import QuerySet

from fleet.accounts.models import Person
from fleet.notices.models import Notice


def notices_for(by: Person) -> QuerySet[Notice]:
    """Return a person's notices, the newest first."""
    return Notice.objects.filter(person=by).order_by("-told_at", "id")
