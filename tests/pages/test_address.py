"""Changing the address one signs in with, and showing who one is without a password."""

import pytest
from allauth.account.models import EmailAddress
from django.core import mail
from django.test import Client

from fleet.accounts.actions import add_person
from fleet.accounts.models import Change, Person
from fleet.accounts.policy import SERVICE
from fleet.garage.models import Rider
from tests.pages.test_second_factor import signed_in
from tests.pages.test_sign_in import PASSWORD, code_in, is_in, try_password

CHANGE = "/account/address/"
NEW = "fen.at.home@example.org"


def again(client):
    """Show by the password that it is still the same person."""
    client.post(f"/account/again/?next={CHANGE}", {"password": PASSWORD, "next": CHANGE})
    mail.outbox.clear()
    return client


def changed(client, address=NEW):
    client.post(CHANGE, {"email": address})
    return client.post("/sign-up/confirm/", {"code": code_in(mail.outbox[0])})


@pytest.fixture
def by_code(db):
    """Somebody who never had a password, signed in."""
    add_person(by=SERVICE, email="wyn@example.org", name="Wyn Tarrow")
    client = Client()
    client.post("/sign-in/code/", {"email": "wyn@example.org"})
    client.post("/sign-in/code/enter/", {"code": code_in(mail.outbox.pop())})
    return client


def test_the_new_address_takes_the_place_of_the_old_once_a_code_sent_there_came_back(fitter):
    client = again(signed_in())

    client.post(CHANGE, {"email": NEW})
    before = Person.objects.get(pk=fitter.pk).email
    answer = client.post("/sign-up/confirm/", {"code": code_in(mail.outbox[0])})

    assert mail.outbox[0].to == [NEW]
    assert before == "fen@example.org"
    assert answer.url == "/account/"
    assert Person.objects.get(pk=fitter.pk).email == NEW
    assert [one.email for one in EmailAddress.objects.filter(user=fitter)] == [NEW]
    assert not is_in(try_password(Client(), PASSWORD).client)
    assert is_in(signed_in(NEW))


def test_the_old_address_is_told(fitter):
    changed(again(signed_in()))

    told = mail.outbox[-1]
    assert told.to == ["fen@example.org"]
    assert f"changed from fen@example.org to {NEW}" in told.body


def test_the_trail_keeps_both_addresses(fitter):
    changed(again(signed_in()))

    line = Change.objects.filter(person=fitter, what="corrected").get()
    assert (line.before, line.after) == ({"email": "fen@example.org"}, {"email": NEW})


def test_a_new_address_opens_no_garage(fitter):
    changed(again(signed_in()))

    assert not Rider.objects.filter(person=fitter).exists()


def test_an_open_page_alone_changes_no_address(fitter):
    client = signed_in()

    answer = client.post(CHANGE, {"email": NEW})

    assert answer.url.startswith("/account/again/")
    assert Person.objects.get(pk=fitter.pk).email == "fen@example.org"


def test_an_address_of_somebody_else_is_told_to_its_owner_only(fitter, director):
    free, taken = again(signed_in()), again(signed_in())

    answers = [
        client.post(CHANGE, {"email": address}, follow=True).content.decode()
        for client, address in ((free, NEW), (taken, director.email))
    ]

    assert answers[0].count(NEW) == answers[1].count(director.email)
    assert "Confirm your address" in answers[1]
    assert mail.outbox[1].to == [director.email]
    assert Person.objects.get(pk=director.pk).email == director.email


def test_even_with_the_code_an_address_stays_with_the_account_that_has_it(fitter, director):
    answer = changed(again(signed_in()), director.email)

    assert answer.status_code == 200
    assert Person.objects.get(pk=fitter.pk).email == "fen@example.org"
    assert EmailAddress.objects.get(email=director.email).user == director


@pytest.mark.parametrize(
    ("address", "sentence"),
    [
        ("fen@example.org", "This is your address already: give the new one."),
        ("nowhere", "This is no e-mail address"),
    ],
)
def test_an_address_that_changes_nothing_is_refused(fitter, address, sentence):
    answer = again(signed_in()).post(CHANGE, {"email": address})

    assert sentence in answer.content.decode()


def test_somebody_without_a_password_shows_who_they_are_by_a_code(by_code):
    asked = by_code.get("/account/second/")
    by_code.post(asked.url, {"recipient": "wyn@example.org", "next": "/account/second/"})
    code = code_in(mail.outbox[0])
    answer = by_code.post("/account/again/e-mail/code/?next=/account/second/", {"code": code})

    assert asked.url.startswith("/account/again/e-mail/")
    assert answer.url == "/account/second/"
    assert by_code.get("/account/second/").status_code == 200


def test_the_code_goes_to_no_address_but_ones_own(by_code):
    answer = by_code.post("/account/again/e-mail/", {"recipient": "fen@example.org"})

    assert answer.status_code == 200
    assert not mail.outbox
