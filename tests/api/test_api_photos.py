"""Photos over the API: sent with an inspection or a surface note as a form, read by whoever may read the fact."""

import uuid

import numpy as np
import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from PIL import Image
from rest_framework.test import APIClient

from fleet.accounts.actions import make_key
from fleet.accounts.models import Scope
from fleet.inventory.inspection import Inspection
from fleet.photos.cleaning import LONGEST_PX, MOST_BYTES
from fleet.photos.models import Photo
from fleet.running.models import SurfaceNote
from tests.photos.pictures import MADE_WITH, jpeg, opened, png

KEY = "8e03978e-40d5-43dd-bc93-6894a57f9324"


def file_of(content):
    return SimpleUploadedFile("tread.jpg", content, content_type="image/jpeg")


@pytest.fixture
def send(ask, world, longfield, inspector):
    """Send what tech inspection found on Robin's front tire, with a photo."""

    def post(content=None, by=inspector, client=None, headers=None, **changes):
        given = {
            "tire": str(world.fitted["front"].tire_id),
            "inspected_for": str(longfield.pk),
            "outcome": "advise",
            "words": "A flap has torn at the left edge.",
            "inspected_at": "2026-06-12T10:30:00Z",
            "photo": file_of(content or jpeg()),
        } | changes
        given = {name: value for name, value in given.items() if value is not None}
        return (client or ask(by)).post("/api/v1/inspections", given, format="multipart", headers=headers)

    return post


@pytest.fixture
def note(ask, world, rider_person):
    """Send what Robin saw on the front tread, with a photo."""

    def post(by=rider_person, **changes):
        given = {
            "tire": str(world.fitted["front"].tire_id),
            "look": "even",
            "seen_at": "2026-06-12T10:30:00Z",
        }
        return ask(by).post(
            "/api/v1/surface-notes", given | {"photo": file_of(jpeg())} | changes, format="multipart"
        )

    return post


@pytest.fixture
def facts_before(world):
    """How many photos, inspections and notes the world has already."""
    return counted()


def counted():
    return [model.objects.count() for model in (Photo, Inspection, SurfaceNote)]


def read(client, made):
    return client.get(f"/api/v1/photos/{made.json()['photo']}")


def test_a_photo_is_drawn_anew_and_read_by_whoever_may_read_the_inspection(
    ask, send, rider_person, fitter, inspector, crew, stranger
):
    made = send(jpeg(2000, 1000))

    assert made.status_code == 201
    answer = read(ask(rider_person), made)
    assert (answer.status_code, answer["Content-Type"]) == (200, "image/png")
    assert opened(answer.content).size == (LONGEST_PX, LONGEST_PX // 2)
    assert MADE_WITH.encode() not in answer.content
    codes = [read(ask(who), made).status_code for who in (fitter, inspector, crew, stranger)]
    assert codes == [200, 200, 404, 404]
    assert read(ask(), made).status_code == 401
    assert read(ask(stranger), made)["Content-Type"] == "application/problem+json"


def test_a_photo_of_a_tread_is_read_like_its_note_and_not_once_that_is_taken_back(
    ask, note, rider_person, fitter, crew, stranger
):
    made = note()

    assert made.status_code == 201
    assert [read(ask(who), made).status_code for who in (rider_person, fitter, crew, stranger)] == [
        200, 200, 404, 404,
    ]  # fmt: skip
    ask(rider_person).post(f"/api/v1/surface-notes/{made.json()['id']}/void", {"reason": "the other tire"})
    assert read(ask(rider_person), made).status_code == 404


def test_a_picture_held_already_is_not_sent_again(ask, send, rider_person):
    made = send()
    first = read(ask(rider_person), made)

    again = ask(rider_person).get(
        f"/api/v1/photos/{made.json()['photo']}", headers={"If-None-Match": first["ETag"]}
    )

    assert (again.status_code, again.content) == (304, b"")
    as_json = ask(rider_person).get(
        f"/api/v1/photos/{made.json()['photo']}", headers={"Accept": "application/json"}
    )
    assert (as_json.status_code, as_json.json()["code"]) == (406, "not-acceptable")


@pytest.mark.parametrize(
    ("changes", "code", "field"),
    [
        ({"photo": lambda: file_of(b"\xff\xd8\xff" + bytes(MOST_BYTES))}, "no-photo", "photo"),
        ({"photo": lambda: file_of(b"%PDF-1.7 no picture")}, "no-photo", "photo"),
        ({"photo": lambda: file_of(jpeg()[:2000])}, "no-photo", "photo"),
        ({"photo": lambda: file_of(b"")}, "no-photo", "photo"),
        ({"photo": lambda: "tread.jpg"}, "invalid", "photo"),
        ({"photo": lambda: [file_of(png()), file_of(png())]}, "invalid", "photo"),
        ({"photo": lambda: None}, "invalid", "photo"),
        ({"tire": lambda: file_of(png())}, "invalid", "tire"),
        ({"outcome": lambda: ["pass", "hold"]}, "invalid", "outcome"),
        ({"axle": lambda: "front"}, "invalid", "axle"),
    ],
)
def test_what_is_no_photo_is_refused_with_its_field_and_nothing_is_stored(
    send, facts_before, changes, code, field
):
    answer = send(**{name: value() for name, value in changes.items()})

    assert (answer.status_code, answer.json()["code"], list(answer.json()["errors"])) == (422, code, [field])
    assert answer["Content-Type"] == "application/problem+json"
    assert counted() == facts_before


def test_whoever_may_not_inspect_learns_nothing_of_the_photo(send, facts_before, crew, stranger):
    assert send(b"no picture", by=crew).status_code == 403
    assert send(b"no picture", by=stranger).status_code == 422
    assert counted() == facts_before


def test_one_sent_twice_under_a_key_has_one_effect_and_another_photo_under_it_is_refused(send, facts_before):
    headers = {"Idempotency-Key": KEY}
    content = jpeg()

    first, again = send(content, headers=headers), send(content, headers=headers)
    other = send(png(), headers=headers)

    assert (first.status_code, again.status_code, other.status_code) == (201, 201, 422)
    assert again.content == first.content
    assert again["Idempotency-Replayed"] == "true"
    assert other.json()["code"] == "idempotency-key-reused"
    assert counted() == [facts_before[0] + 1, facts_before[1] + 1, facts_before[2]]


def test_a_refused_photo_is_refused_again_under_its_key(send):
    answers = [send(b"no picture", headers={"Idempotency-Key": KEY}) for _ in range(2)]

    assert [answer.status_code for answer in answers] == [422, 422]
    assert answers[1]["Idempotency-Replayed"] == "true"


def test_a_fact_sent_twice_under_its_own_key_keeps_one_photo(send, facts_before):
    fact = str(uuid.uuid4())

    made = [send(key=fact).json()["id"] for _ in range(2)]

    assert made == [fact, fact]
    assert counted()[:2] == [facts_before[0] + 1, facts_before[1] + 1]


def test_a_program_sends_a_photo_larger_than_any_json_may_be(send, inspector, now):
    pixels = np.random.default_rng(1).integers(0, 255, (1400, 1400, 3), dtype=np.uint8)
    key = make_key(by=inspector, at=now, name="camera", scopes=[Scope.WRITE_HOLDS])[1]
    client = APIClient(headers={"Authorization": f"Bearer {key}"})
    content = png_of(pixels)

    answer = send(content, client=client, headers={"Idempotency-Key": KEY})

    assert len(content) > 5 * 1024 * 1024
    assert answer.status_code == 201


def png_of(pixels):
    file = SimpleUploadedFile("noise.png", b"")
    Image.fromarray(pixels).save(file, "PNG")
    return file.file.getvalue()


@pytest.fixture
def browser(inspector):
    """A program that uses the session of the pages, and the token its writes repeat."""
    client = APIClient(enforce_csrf_checks=True)
    client.force_login(inspector)
    client.get("/inspections/")
    return client, client.cookies["csrftoken"].value


def test_with_a_session_the_token_is_wanted_and_the_form_is_read_all_the_same(send, browser):
    client, token = browser

    assert send(client=client).json()["code"] == "csrf-failed"
    assert send(client=client, headers={"X-CSRFToken": token, "Idempotency-Key": KEY}).status_code == 201
    again = send(client=client, headers={"X-CSRFToken": token, "Idempotency-Key": KEY})
    assert again["Idempotency-Replayed"] == "true"


@pytest.mark.parametrize(
    ("content_type", "body"),
    [
        ("multipart/form-data", b"--x--"),
        ("multipart/form-data; boundary=", b"--x--"),
        (
            "multipart/form-data; boundary=x",
            b"".join(
                b'--x\r\nContent-Disposition: form-data; name="a%d"\r\n\r\n1\r\n' % n for n in range(1100)
            )
            + b"--x--\r\n",
        ),
    ],
    ids=["no boundary", "empty boundary", "too many parts"],
)
def test_a_form_that_cannot_be_taken_apart_is_a_malformed_body(browser, ask, inspector, content_type, body):
    client, token = browser
    sent = {"data": body, "content_type": content_type}

    by_session = client.post("/api/v1/inspections", **sent, headers={"X-CSRFToken": token})
    under_a_key = ask(inspector).post("/api/v1/inspections", **sent, headers={"Idempotency-Key": KEY})

    for answer in (by_session, under_a_key):
        assert (answer.status_code, answer.json()["code"]) == (400, "malformed")
        assert "The form is not readable" in answer.json()["detail"]


def test_forms_are_taken_where_a_photo_is_and_nowhere_else(ask, send, inspector):
    made = send().json()["id"]

    voided = ask(inspector).post(f"/api/v1/inspections/{made}/void", {"reason": "slip"}, format="multipart")
    as_json = ask(inspector).post("/api/v1/inspections", {"photo": "tread.jpg"}, format="json")

    assert voided.status_code == 415
    assert (as_json.status_code, "photo" in as_json.json()["errors"]) == (422, True)
