"""Photos, each shown to whoever may read the fact it belongs to."""

import uuid
from collections.abc import Callable
from datetime import date
from typing import Any, Final

from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from django.views.decorators.http import require_safe

from fleet.accounts.policy import Actor
from fleet.errors import NotFound
from fleet.life.queries import inspections_for
from fleet.pages.asking import person_of
from fleet.photos.models import Photo
from fleet.photos.queries import content_of
from fleet.running.queries import surface_notes_for


def _inspections(by: Actor, on: date) -> QuerySet[Any]:
    return inspections_for(by, on=on)


def _surface_notes(by: Actor, _on: date) -> QuerySet[Any]:
    return surface_notes_for(by).filter(voided_at__isnull=True)


SEEN: Final[tuple[Callable[[Actor, date], QuerySet[Any]], ...]] = (_inspections, _surface_notes)
"""The facts that have photos, each narrowed to what somebody may read."""


@require_safe
def photo(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    """Send a picture; no cache keeps it, and nothing in it is ever run."""
    by, on = person_of(request), timezone.now().date()
    found = Photo.objects.filter(pk=pk).first()
    if found is None or not any(facts(by, on).filter(photo=pk).exists() for facts in SEEN):
        raise NotFound("There is no such photo for you.")
    return HttpResponse(
        content_of(found),
        content_type="image/png",
        headers={"Content-Disposition": f'inline; filename="{pk}.png"'},
    )
