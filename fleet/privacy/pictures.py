"""The photos about somebody, found by the facts that point to them."""

from django.db.models import Q, QuerySet

from fleet.inventory.ownership import theirs_then
from fleet.photos.models import Photo
from fleet.privacy.holder import Holder
from fleet.privacy.words import PHOTOS


def photos_about(holder: Holder) -> QuerySet[Photo]:
    """Return the photos of a rider's tires."""
    found = Q(pk__in=[])
    for model, when in PHOTOS.items():
        facts = model._base_manager.filter(theirs_then(holder.riders, when), photo__isnull=False)  # noqa: SLF001 -- documented
        found |= Q(pk__in=facts.values("photo"))
    return Photo.objects.filter(found).order_by("kept_at", "id")
