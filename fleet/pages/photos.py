"""Photos, each shown to whoever may read the fact it belongs to."""

import uuid

from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from django.views.decorators.http import require_safe

from fleet.errors import NotFound
from fleet.life.queries import photos_for
from fleet.pages.asking import person_of
from fleet.photos.queries import content_of


@require_safe
def photo(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    """Send a picture; no cache keeps it, and nothing in it is ever run."""
    found = photos_for(person_of(request), on=timezone.now().date()).filter(pk=pk).first()
    if found is None:
        raise NotFound("There is no such photo for you.")
    return HttpResponse(
        content_of(found),
        content_type="image/png",
        headers={"Content-Disposition": f'inline; filename="{pk}.png"'},
    )
