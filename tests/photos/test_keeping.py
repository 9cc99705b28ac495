"""A photo is a row and a file: kept together, forgotten together, and what a failed transaction leaves is swept away."""

import hashlib
import os
from datetime import UTC, datetime, timedelta

import pytest
from django.db import transaction

from fleet.errors import NotFound
from fleet.photos import files
from fleet.photos.actions import forget_photos, keep_photo
from fleet.photos.errors import NoPhoto
from fleet.photos.models import Photo
from fleet.photos.queries import content_of
from fleet.photos.tasks import sweep_photos
from tests.photos.pictures import jpeg, opened

DAYS = timedelta(days=2)


@pytest.fixture(autouse=True)
def _own_folder(settings, tmp_path):
    settings.PHOTO_DIR = tmp_path / "photos"


def aged(path):
    moment = (datetime.now(UTC) - DAYS).timestamp()  # noqa: TID251 - files carry the machine's own time
    os.utime(path, (moment, moment))


def test_a_kept_photo_is_a_row_and_a_file_of_its_owner_only(db, now):
    photo = keep_photo(at=now, data=jpeg())

    content = content_of(photo)
    assert opened(content).size == (photo.width_px, photo.height_px) == (640, 480)
    assert (photo.byte_count, photo.digest) == (len(content), hashlib.sha256(content).hexdigest())
    path = files.path_of(photo.pk)
    assert path.stat().st_mode & 0o777 == 0o600
    assert path.parent.stat().st_mode & 0o777 == 0o700
    assert [pk for pk, _ in files.kept()] == [photo.pk]


def test_what_is_no_photo_leaves_nothing(db, now):
    with pytest.raises(NoPhoto):
        keep_photo(at=now, data=b"a letter")

    assert not Photo.objects.exists()
    assert list(files.kept()) == []


def test_a_forgotten_photo_is_gone_with_its_file_once_that_is_sure(
    db, now, django_capture_on_commit_callbacks
):
    photo, other = keep_photo(at=now, data=jpeg()), keep_photo(at=now, data=jpeg())

    with django_capture_on_commit_callbacks() as waiting:
        forget_photos([photo.pk])
    was_there = files.path_of(photo.pk).exists()
    for callback in waiting:
        callback()

    assert was_there
    assert [pk for pk, _ in files.kept()] == [other.pk]
    assert list(Photo.objects.all()) == [other]


def test_what_a_failed_transaction_left_is_swept_away_after_a_day(db, now):
    kept = keep_photo(at=now, data=jpeg())
    with transaction.atomic():
        lost = keep_photo(at=now, data=jpeg())
        transaction.set_rollback(True)
    cut_off = files.path_of(lost.pk).with_name(".cut-off")
    cut_off.write_bytes(b"half")

    assert sweep_photos() == 0
    for path in (files.path_of(lost.pk), files.path_of(kept.pk), cut_off):
        aged(path)
    assert sweep_photos() == 2

    assert [pk for pk, _ in files.kept()] == [kept.pk]
    assert not cut_off.exists()


def test_a_lost_file_is_said_to_be(db, now):
    photo = keep_photo(at=now, data=jpeg())
    files.remove(photo.pk)

    with pytest.raises(NotFound, match="restore it from a backup"):
        content_of(photo)
