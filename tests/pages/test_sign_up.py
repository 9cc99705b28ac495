"""A new account: confirmed by a code, with a garage of its own, and telling nobody who has one already."""

import re

import pytest
from django.core import mail
from django.test import Client

from fleet.accounts.models import Person
from fleet.garage.models import Rider
from tests.pages.test_sign_in import code_in, is_in

NEW = {"name": "Wyn Tarrow", "email": "Wyn@example.org", "password1": "a wheel of one's own"}


def signed_up(**changed):
    client = Client()
    client.post("/sign-up/", {**NEW, **changed})
    return client


def test_a_confirmed_address_opens_a_garage_of_ones_own(db):
    client = signed_up()
    before = is_in(client)

    answer = client.post("/sign-up/confirm/", {"code": code_in(mail.outbox[0])}, follow=True)

    assert not before
    assert answer.request["PATH_INFO"] == "/garage/"
    rider = Rider.objects.get()
    assert (rider.name, rider.person.email) == ("Wyn Tarrow", "wyn@example.org")
    assert not rider.person.is_superuser


def test_an_address_not_confirmed_gets_nowhere_even_with_the_password(db):
    signed_up()
    client = Client()

    answer = client.post("/sign-in/", {"login": "wyn@example.org", "password": NEW["password1"]})

    assert answer.url == "/sign-up/confirm/"
    assert not is_in(client)
    assert not Rider.objects.exists()


def test_another_code_can_be_asked_for_once(db):
    client = signed_up()

    client.post("/sign-up/confirm/", {"action": "resend"})
    client.post("/sign-up/confirm/", {"code": code_in(mail.outbox[1])})

    assert code_in(mail.outbox[0]) != code_in(mail.outbox[1])
    assert is_in(client)


def test_an_address_taken_before_is_told_to_its_owner_only(fitter):
    new, taken = Client(), Client()

    answers = [
        client.post("/sign-up/", {**NEW, "email": email}, follow=True)
        for client, email in ((new, "new@example.org"), (taken, "fen@example.org"))
    ]

    pages = [re.sub(r'value="[^"]+"', "", answer.content.decode()) for answer in answers]
    assert pages[0] == pages[1]
    assert mail.outbox[1].subject == "You have an account already"
    assert Person.objects.filter(email="fen@example.org").get().name == fitter.name


def test_an_address_taken_before_takes_as_long_as_a_new_one(fitter, monkeypatch):
    hashed = []
    monkeypatch.setattr(
        "django.contrib.auth.hashers.MD5PasswordHasher.encode",
        lambda _self, password, salt: hashed.append(password) or f"md5${salt}$0",
    )

    counts = []
    for email in ("new@example.org", "fen@example.org"):
        hashed.clear()
        signed_up(email=email)
        counts.append(hashed.count(NEW["password1"]))

    assert counts == [1, 1]


@pytest.mark.parametrize(
    ("changed", "sentence"),
    [
        ({"name": ""}, "Name is missing: fill it in."),
        ({"email": "nowhere"}, "This is no e-mail address"),
        ({"password1": "short"}, "at least 10 characters"),
        ({"password1": "password123"}, "too common"),
        ({"name": "x" * 101}, "at most 100 characters"),
    ],
)
def test_what_cannot_be_right_is_said_at_its_field(db, changed, sentence):
    answer = Client().post("/sign-up/", {**NEW, **changed})

    assert sentence in answer.content.decode()
    assert not Person.objects.exists()


def test_nobody_gives_themselves_a_role_or_a_right(db):
    signed_up(is_superuser="on", is_staff="on", role="director")

    person = Person.objects.get()
    assert not person.is_superuser
    assert not person.memberships.exists()
