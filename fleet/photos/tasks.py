"""The job that removes files of photos that were never stored, or whose deletion was cut off."""

from datetime import timedelta
from typing import Final

from celery import shared_task
from django.utils import timezone

from fleet.photos import files
from fleet.photos.models import Photo

LEFT_ALONE: Final = timedelta(days=1)
"""How long a file without a row stays: its transaction may still be under way."""


@shared_task
def sweep_photos() -> int:
    """Remove the files no row knows that are a day old or older; their number is returned."""
    before = (timezone.now() - LEFT_ALONE).timestamp()
    known = set(Photo.objects.values_list("pk", flat=True))
    orphans = [path for pk, path in files.kept() if pk not in known]
    old = [path for path in (*orphans, *files.unfinished()) if path.stat().st_mtime < before]
    for path in old:
        path.unlink(missing_ok=True)
    return len(old)
