"""Getting in: by password, by a code, with a new password; and how guessing is slowed down without locking others out."""

import re

import pytest
from django.core import mail
from django.test import Client
from django.urls import reverse

from fleet.accounts.actions import add_person
from fleet.accounts.policy import SERVICE

PASSWORD = "open the trailer"
ELSEWHERE = {"REMOTE_ADDR": "203.0.113.7"}


def code_in(message):
    return re.search(r"^([A-Z0-9]{3,}(?:-[A-Z0-9]+)*)$", message.body, re.MULTILINE).group(1)


def is_in(client):
    return client.get("/account/").status_code == 200


def try_password(client, password, **where):
    return client.post("/sign-in/", {"login": "fen@example.org", "password": password}, **where)


def test_a_code_by_e_mail_signs_in_without_a_password(fitter):
    client = Client()

    client.post("/sign-in/code/?next=/units/", {"email": "Fen@example.org", "next": "/units/"})
    [message] = mail.outbox
    answer = client.post("/sign-in/code/enter/?next=/units/", {"code": code_in(message), "next": "/units/"})

    assert message.to == ["fen@example.org"]
    assert answer.url == "/units/"
    assert is_in(client)


def test_a_wrong_code_is_refused_and_the_third_ends_it(fitter):
    client = Client()
    client.post("/sign-in/code/", {"email": "fen@example.org"})
    right = code_in(mail.outbox[0])

    first = client.post("/sign-in/code/enter/", {"code": "WRONG1"})
    client.post("/sign-in/code/enter/", {"code": "WRONG2"})
    client.post("/sign-in/code/enter/", {"code": "WRONG3"})
    client.post("/sign-in/code/enter/", {"code": right})

    assert "This is not the code that was sent last" in first.content.decode()
    assert not is_in(client)


def test_asking_for_a_code_tells_nobody_which_addresses_have_an_account(fitter):
    known, unknown = Client(), Client()

    answers = [
        client.post("/sign-in/code/", {"email": email}, follow=True)
        for client, email in ((known, "fen@example.org"), (unknown, "nobody@example.org"))
    ]

    pages = [re.sub(r'value="[^"]+"', "", answer.content.decode()) for answer in answers]
    assert pages[0] == pages[1]
    assert "No account has this address" in mail.outbox[1].subject


def test_a_forgotten_password_is_replaced_by_a_code(fitter):
    client = Client()

    client.post("/password/", {"email": "fen@example.org"})
    client.post("/password/code/", {"code": code_in(mail.outbox[0])})
    answer = client.post(
        "/password/new/",
        {"password1": "a wheel of one's own", "password2": "a wheel of one's own"},
        follow=True,
    )

    assert "Your new password is kept" in answer.content.decode()
    assert try_password(client, PASSWORD).status_code == 200
    assert try_password(client, "a wheel of one's own").status_code == 302


def test_a_password_everybody_uses_is_refused(fitter):
    client = Client()
    client.post("/password/", {"email": "fen@example.org"})
    client.post("/password/code/", {"code": code_in(mail.outbox[0])})

    answer = client.post("/password/new/", {"password1": "password123", "password2": "password123"})

    assert "too common" in answer.content.decode()


def test_messages_carry_no_address_a_forged_host_could_change(fitter):
    client = Client()

    client.post("/password/", {"email": "fen@example.org"}, HTTP_HOST="evil.example")
    client.post("/sign-in/code/", {"email": "nobody@example.org"}, HTTP_HOST="evil.example")

    assert len(mail.outbox) == 2
    assert all("evil" not in message.body + message.subject for message in mail.outbox)


def test_guessing_is_stopped_where_it_comes_from_and_nowhere_else(fitter):
    guesser, owner = Client(), Client()
    for _ in range(5):
        try_password(guesser, "a wrong guess", **ELSEWHERE)

    stopped = try_password(guesser, PASSWORD, **ELSEWHERE)
    own = try_password(owner, PASSWORD)

    assert "Too many tries from here" in stopped.content.decode()
    assert own.status_code == 302


def test_one_place_cannot_try_many_accounts(fitter, db):
    guesser = Client()
    for number in range(10):
        guesser.post(
            "/sign-in/", {"login": f"p{number}@example.org", "password": "a wrong guess"}, **ELSEWHERE
        )

    stopped = try_password(guesser, PASSWORD, **ELSEWHERE)

    assert "Too many tries from here" in stopped.content.decode()


def test_codes_asked_for_by_somebody_else_keep_nobody_from_theirs(fitter):
    for _ in range(6):
        last = Client().post("/sign-in/code/", {"email": "fen@example.org"}, **ELSEWHERE)

    own = Client().post("/sign-in/code/", {"email": "fen@example.org"})

    assert "Too many tries from here" in last.content.decode()
    assert own.status_code == 302


def test_too_many_requests_have_a_page_of_their_own(fitter):
    client = Client()
    for _ in range(6):
        answer = client.post("/password/", {"email": "fen@example.org"})

    assert answer.status_code == 429
    assert "Nothing was stored" in answer.content.decode()


def test_behind_a_proxy_tries_are_counted_by_the_address_the_proxy_saw(fitter, settings):
    settings.ALLAUTH_TRUSTED_PROXY_COUNT = 1
    for number in range(5):
        try_password(Client(), "a wrong guess", HTTP_X_FORWARDED_FOR=f"198.51.100.{number}, 203.0.113.7")

    stopped = try_password(Client(), PASSWORD, HTTP_X_FORWARDED_FOR="198.51.100.9, 203.0.113.7")
    own = try_password(Client(), PASSWORD, HTTP_X_FORWARDED_FOR="203.0.113.8")

    assert "Too many tries from here" in stopped.content.decode()
    assert own.status_code == 302


def test_a_closed_account_does_not_get_in(fitter):
    fitter.is_active = False
    fitter.save()
    client = Client()

    try_password(client, PASSWORD)

    assert not is_in(client)


def test_a_password_is_changed_with_the_present_one_and_the_owner_is_told(as_, fitter):
    client = as_(fitter)
    new = {"password1": "a wheel of one's own", "password2": "a wheel of one's own"}

    wrong = client.post("/account/password/", {"oldpassword": "not this", **new})
    right = client.post("/account/password/", {"oldpassword": PASSWORD, **new})

    assert "This is not your present password" in wrong.content.decode()
    assert right.url == "/account/"
    assert is_in(client)
    assert "choose a new password at once" in mail.outbox[0].body


def test_somebody_who_signs_in_by_code_chooses_a_first_password(as_, db):
    person = add_person(by=SERVICE, email="pim@example.org", name="Pim Strand")
    client = as_(person)
    chosen = {"password1": "a wheel of one's own", "password2": "a wheel of one's own"}

    page = client.get("/account/").content.decode()
    asked = client.post("/account/password/first/", chosen)
    sent = client.post(asked.url, {"recipient": "pim@example.org"})
    client.post(sent.url, {"code": code_in(mail.outbox[0])})

    assert "Choose a password" in page
    person.refresh_from_db()
    assert person.check_password("a wheel of one's own")


@pytest.mark.parametrize(
    "route", ["account_request_login_code", "account_signup", "account_reset_password", "account_inactive"]
)
def test_the_way_in_is_open_and_in_our_look(db, route):
    answer = Client().get(reverse(route))

    page = answer.content.decode()
    assert answer.status_code == 200
    assert "Track-day tires</title>" in page
    assert "<script" not in page
    assert " style=" not in page


@pytest.mark.parametrize("path", ["/accounts/login/", "/login/", "/account/email/", "/sign-in/trust/"])
def test_nothing_else_of_the_library_can_be_reached(as_, fitter, path):
    assert as_(fitter).get(path).status_code == 404
