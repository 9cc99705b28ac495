"""Requests nobody types by hand: NUL characters, foreign character sets, and years no tire was made in."""

import uuid

import pytest
from django.test import Client
from django.urls import reverse

from fleet.inventory.actions import take_wheels_in

FOREIGN = [
    "unicode_escape",  # decodes to half a surrogate pair
    "rot13",  # no text encoding at all
    "idna",  # cannot replace what it cannot decode
]


@pytest.mark.parametrize("address", ["/b/%00/", "/b/%00/board/", "/api/v1/public/bulletins/%00"])
def test_a_nul_in_an_address_leads_nowhere(db, address):
    assert Client().get(address).status_code == 404


def test_a_nul_in_what_was_looked_up_finds_what_stands_beside_it(
    as_, fitter, crew, rider, wheel_pair, entry, day
):
    """PostgreSQL stores and compares no NUL (manual, section 8.3), so it must not get that far."""
    found = as_(fitter).get("/trailer/riders/", {"who": "Rob\x00in"}).content.decode()
    number = as_(crew).get(reverse("gate", args=[day.pk]), {"number": "2\x007"}).content.decode()

    assert "Robin Vale" in found
    assert "Robin Vale" in number


def test_a_nul_beside_a_refused_form_changes_nothing(as_, fitter, tarn, inspector, day, entry, fitted):
    wheels = fitted["rear"].wheel_pair
    taken_in = as_(fitter).post(reverse("take-in", args=[wheels.pk]), {"wish": "\x00", "key": "none"})
    held = as_(inspector).post(
        reverse("inspect", args=[day.pk]),
        {"number": "27", "axle": "rear", "outcome": "hold", "words": "\x00"},
    )

    assert (taken_in.status_code, held.status_code) == (422, 422)


@pytest.mark.parametrize("charset", FOREIGN)
def test_a_form_in_another_character_set_than_utf_8_is_refused(db, charset):
    body = b'--x\r\nContent-Disposition: form-data; name="username"\r\n\r\n\\ud800\r\n--x--\r\n'
    client = Client(raise_request_exception=False, enforce_csrf_checks=True)
    client.get("/sign-in/")

    answer = client.generic(
        "POST", "/sign-in/", body, content_type=f"multipart/form-data; boundary=x; charset={charset}"
    )

    assert answer.status_code == 400
    assert "cannot be read" in answer.content.decode()


@pytest.mark.parametrize("typed", ["0001-01-01T00:00+14:00", "1979-12-31T23:59", "9999-12-31T23:59-12:00"])
def test_a_time_in_a_year_without_tires_is_refused_at_its_field(
    as_, fitter, tarn, wheel_pair, fitted, front_lot, now, typed
):
    ticket = take_wheels_in(by=fitter, at=now, vendor=tarn, wheel_pair=wheel_pair, opened_on=now.date())
    form = {
        "chosen": f"lot:{front_lot.pk}",
        "fitted_at": typed,
        "key": str(uuid.uuid4()),
        "old_reason": "swap",
        "old_destination": "kept",
    }

    answer = as_(fitter).post(reverse("fit", args=[ticket.pk, "front"]), form)

    assert answer.status_code == 422
    assert "The year lies between 1980 and 2100" in answer.content.decode()
