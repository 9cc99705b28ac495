"""What treads show, on the page of a test: bad input first, then stored with a photo, seen by whom it concerns alone."""

import re
import uuid

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from playwright.sync_api import expect

from fleet.garage.actions import take_back
from fleet.photos.models import Photo
from fleet.running.models import SurfaceNote
from tests.pages.browser import check, sign_in
from tests.photos.pictures import jpeg, opened


@pytest.fixture
def address(trial):
    return reverse("tread-seen", args=[trial.pk, "candidate"])


@pytest.fixture
def sent(now):
    return {
        "axle": "rear",
        "zone": "R2",
        "look": "cold_tear",
        "words": "in the first laps",
        "seen_at": "2026-06-12T11:58",
        "key": str(uuid.uuid4()),
    }


def text(answer):
    return " ".join(answer.content.decode().split())


def photo(content, name="tread.jpg"):
    return SimpleUploadedFile(name, content, "image/jpeg")


@pytest.mark.parametrize(
    ("field", "value", "sentence"),
    [
        ("look", "", "What it shows is missing: choose one."),
        ("axle", "middle", "Choose one of the tires of this set."),
        ("seen_at", "2031-06-12T11:58", "has not come yet"),
        ("photo", b"%PDF-1.7 no picture", "This file is no photo in JPEG or PNG"),
        ("photo", jpeg()[:900], "The photo is broken or was cut off"),
    ],
)
def test_what_cannot_be_is_said_and_nothing_is_kept(as_, tester, address, sent, field, value, sentence):
    given = photo(value) if field == "photo" else value

    answer = as_(tester).post(address, sent | {field: given})

    assert answer.status_code == 422
    assert sentence in text(answer)
    assert 'value="in the first laps"' in text(answer)
    assert not SurfaceNote.objects.exists()
    assert not Photo.objects.exists()


def test_a_note_with_a_photo_is_stored_once_and_its_photo_tells_nothing_else(
    as_, tester, rider_person, stranger, director, address, sent
):
    """The photo is read back by another library than the one that drew it (Pillow), and has no Exif block."""
    for _ in range(2):
        as_(tester).post(address, sent | {"photo": photo(jpeg(orientation=6))})

    [note] = SurfaceNote.objects.all()
    picture = reverse("photo", args=[note.photo_id])
    seen = {
        who: as_(person).get(picture).status_code
        for who, person in (("tester", tester), ("rider", rider_person))
    }
    hidden = {person.pk: as_(person).get(picture).status_code for person in (stranger, director)}
    image = opened(as_(tester).get(picture).content)

    assert (note.zone, note.look, note.recorded_by) == ("R2", "cold_tear", tester)
    assert Photo.objects.count() == 1
    assert seen == {"tester": 200, "rider": 200}
    assert set(hidden.values()) == {404}
    assert (image.width, image.height) == (480, 640)
    assert not image.getexif()
    assert picture in text(as_(tester).get(address))


def test_a_rider_who_takes_the_sharing_back_takes_the_photos_back_too(
    as_, tester, rider_person, address, sent, shared, now
):
    as_(tester).post(address, sent | {"photo": photo(jpeg())})
    picture = reverse("photo", args=[SurfaceNote.objects.get().photo_id])
    take_back(by=rider_person, sharing=shared, at=now)

    assert as_(tester).get(picture).status_code == 404
    assert as_(rider_person).get(picture).status_code == 200
    assert "no longer shares" in text(as_(tester).get(address))
    assert as_(tester).post(address, sent | {"key": str(uuid.uuid4())}).status_code in {403, 409, 422}
    assert SurfaceNote.objects.count() == 1


def test_a_wrong_note_is_taken_back_with_a_reason(as_, tester, trial, address, sent):
    as_(tester).post(address, sent)
    note = SurfaceNote.objects.get()
    void = reverse("void-tread-seen", args=[trial.pk, "candidate", note.pk])

    silent = as_(tester).post(void, {"reason": " "}, follow=True)
    said = as_(tester).post(void, {"reason": "another zone"}, follow=True)

    assert "with a reason" in text(silent)
    assert "The note is taken back" in text(said)
    note.refresh_from_db()
    assert note.void_reason == "another zone"
    assert as_(tester).post(void, {"reason": "again"}).status_code == 404


@pytest.mark.browser
def test_a_photo_of_a_tread_is_sent_and_stands_in_the_log(page, tester, trial, runs, address, tmp_path):
    picture = tmp_path / "tread.jpg"
    picture.write_bytes(jpeg())
    sign_in(page, tester)
    expect(page.get_by_role("link", name="Trials")).to_be_visible()
    page.goto(reverse("test-runs", args=[trial.pk]))
    page.get_by_role("link", name=re.compile(r"What the tread shows\W+candidate")).click()
    check(page, 48)
    page.get_by_label("Rear: ").check()
    page.get_by_label("Right shoulder").check()
    page.get_by_label("Cold tear").check()
    page.get_by_label("Photo, if it shows more").set_input_files(picture)
    page.get_by_role("button", name="Store what it shows").click()
    expect(page.get_by_text("What the candidate tread shows is stored.")).to_be_visible()
    shown = page.get_by_role("img", name="Photo: rear tread, right shoulder, cold tear")
    expect(shown).to_be_visible()
    check(page, 48)

    page.get_by_role("link", name="Runs").click()
    expect(page.get_by_text("Rear tread, right shoulder: cold tear")).to_be_visible()
    expect(shown).to_be_visible()
