"""Reads of photos; who may see one is asked of the fact it belongs to."""

from fleet.errors import NotFound
from fleet.photos.files import path_of
from fleet.photos.models import Photo


def content_of(photo: Photo) -> bytes:
    """Return the picture; one whose file was lost is said to be."""
    try:
        return path_of(photo.pk).read_bytes()
    except FileNotFoundError:
        raise NotFound("The file of this photo is lost: restore it from a backup.") from None
