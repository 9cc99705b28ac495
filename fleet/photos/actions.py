"""Keep a photo and forget it again. Who may, the action of the fact it belongs to has asked before."""

import hashlib
import uuid
from collections.abc import Iterable
from datetime import datetime
from functools import partial

from django.db import transaction

from fleet.photos import files
from fleet.photos.cleaning import cleaned
from fleet.photos.models import Photo
from fleet.records import store


def keep_photo(*, at: datetime, data: bytes) -> Photo:
    """Draw a photo anew and keep it; called within the transaction of the fact that will point to it.

    The file is written first: a transaction that fails leaves a file without a row, which is swept away, and never a row without
    its picture.
    """
    picture = cleaned(data)
    photo = Photo(
        id=uuid.uuid4(),
        kept_at=at,
        width_px=picture.width_px,
        height_px=picture.height_px,
        byte_count=len(picture.content),
        digest=hashlib.sha256(picture.content).hexdigest(),
    )
    files.write(photo.pk, picture.content)
    return store(photo)


def forget_photos(photos: Iterable[uuid.UUID]) -> None:
    """Delete some photos, the files once the transaction is committed; nothing may point to them any more."""
    gone = list(photos)
    Photo.objects.filter(pk__in=gone).delete()
    for pk in gone:
        transaction.on_commit(partial(files.remove, pk))
