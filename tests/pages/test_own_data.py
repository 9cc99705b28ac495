"""One's own data: taken out and erased only by who shows once more that it is them, and typed what is meant."""

import io
import zipfile

import pytest
from django.test import Client

from fleet.accounts.models import Person
from fleet.accounts.policy import SERVICE
from fleet.garage.models import Rider
from fleet.inventory.actions import take_wheels_in
from tests.pages.test_second_factor import signed_in
from tests.pages.test_sign_in import PASSWORD, is_in

ARCHIVE, ERASE = "/account/data/take-out/", "/account/data/erase/"


@pytest.fixture
def robin(rider, fitted):
    """Robin, who gave the password once more a moment ago."""
    client = signed_in("robin@example.org")
    client.post(f"/account/again/?next={ERASE}", {"password": PASSWORD, "next": ERASE})
    return client


def unpacked(answer):
    return zipfile.ZipFile(io.BytesIO(b"".join(answer.streaming_content)))


def test_the_ways_lead_there_from_the_account_and_from_who_can_see_it(as_, rider):
    client = as_(rider.person)

    for address in ("/account/", "/garage/sharing/"):
        assert 'href="/account/data/"' in client.get(address).content.decode()
    page = client.get("/account/data/").content.decode()
    assert f'href="{ARCHIVE}"' in page
    assert f'href="{ERASE}"' in page


@pytest.mark.parametrize("address", [ARCHIVE, ERASE])
@pytest.mark.parametrize("method", ["get", "post"])
def test_both_ask_once_more_who_it_is(rider, address, method):
    client = signed_in("robin@example.org")

    answer = getattr(client, method)(address, {"typed": "robin@example.org"})

    assert answer.status_code == 302
    assert answer.url.startswith("/account/again/")
    assert Person.objects.get(pk=rider.person_id).email == "robin@example.org"


@pytest.mark.parametrize("address", ["/account/data/", ARCHIVE, ERASE])
def test_who_is_not_signed_in_is_led_to_sign_in(db, address):
    assert Client().get(address).url.startswith("/sign-in/")


def test_the_archive_comes_as_a_file_that_nothing_keeps(robin):
    answer = robin.post(ARCHIVE)

    assert answer["Content-Disposition"].startswith('attachment; filename="track-day-tires-')
    assert "no-store" in answer["Cache-Control"]
    files = unpacked(answer)
    assert "robin@example.org" in files.read("more/account.csv").decode()
    assert "w-001" in files.read("exchange/fittings.csv").decode()


def test_the_archive_cannot_be_asked_for_without_end(robin):
    for _ in range(6):
        assert unpacked(robin.post(ARCHIVE)).testzip() is None

    assert robin.post(ARCHIVE).status_code == 429


def test_another_address_erases_nothing_and_is_told_the_right_one(robin):
    answer = robin.post(ERASE, {"typed": "ottie@example.org"})

    assert answer.status_code == 422
    assert "to erase everything, type robin@example.org" in answer.content.decode()
    assert Rider.objects.get(code="r-001").name == "Robin Vale"
    assert is_in(robin)


def test_once_erased_nobody_gets_in_and_every_visit_is_over(robin):
    elsewhere = signed_in("robin@example.org")

    answer = robin.post(ERASE, {"typed": "Robin@example.org"}, follow=True)

    assert "your account is closed" in answer.content.decode()
    assert [is_in(client) for client in (robin, elsewhere, signed_in("robin@example.org"))] == [False] * 3
    assert not Rider.objects.filter(name="Robin Vale").exists()


def test_what_has_to_be_settled_first_is_said_on_the_page(robin, tarn, wheel_pair, now):
    take_wheels_in(by=SERVICE, at=now, vendor=tarn, wheel_pair=wheel_pair, opened_on=now.date())

    answer = robin.post(ERASE, {"typed": "robin@example.org"})

    assert answer.status_code == 422
    assert "Wheels are still with Tarn Tire Service" in answer.content.decode()
    assert is_in(robin)


def test_a_person_who_does_not_ride_takes_out_an_account(fitter):
    client = signed_in()
    client.post(f"/account/again/?next={ARCHIVE}", {"password": PASSWORD, "next": ARCHIVE})

    files = unpacked(client.post(ARCHIVE))

    assert "fitter" in files.read("more/roles.csv").decode()
    assert files.read("exchange/riders.csv").decode().count("\n") == 1
    assert files.read("exchange/instruments.csv").decode().count("\n") == 1
