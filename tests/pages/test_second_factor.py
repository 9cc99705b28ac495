"""The second factor: set up, asked for, recovered from; and nobody with a role works without one where that is the rule."""

import base64
import hmac
import re
import struct
import time

import pytest
from allauth.mfa.models import Authenticator
from django.core import mail
from django.core.cache import cache
from django.test import Client

from fleet.accounts.models import Change
from fleet.accounts.queries import lacks_second_factor
from tests.pages.test_sign_in import PASSWORD, code_in, is_in, try_password


def code_of_app(secret, at=None):
    """What an authenticator app shows: RFC 6238, section 4, over RFC 4226, section 5.3; now, but not at the last moment."""
    if at is None:
        left_s = 30 - time.time() % 30
        time.sleep(left_s if left_s < 2 else 0)
        at = time.time()
    counter = struct.pack(">Q", int(at // 30))
    digest = hmac.digest(base64.b32decode(secret), counter, "sha1")
    offset = digest[-1] & 0x0F
    return f"{(struct.unpack('>I', digest[offset : offset + 4])[0] & 0x7FFFFFFF) % 1_000_000:06d}"


def signed_in(email="fen@example.org"):
    client = Client()
    client.post("/sign-in/", {"login": email, "password": PASSWORD})
    return client


def set_up(client):
    """Set the second factor up, and give back its secret and the recovery codes."""
    client.post("/account/again/?next=/account/second/", {"password": PASSWORD, "next": "/account/second/"})
    page = client.get("/account/second/").content.decode()
    secret = re.search(r'class="secret">([A-Z2-7]+)<', page).group(1)
    codes = client.post("/account/second/", {"code": code_of_app(secret)}, follow=True).content.decode()
    cache.clear()  # the same half minute serves the test's next sign-in
    return secret, re.findall(r"<li>([0-9-]+)</li>", codes)


@pytest.fixture
def rule(settings):
    settings.STAFF_SECOND_FACTOR = True


def test_the_tests_own_app_agrees_with_the_published_values():
    """RFC 6238, appendix B, SHA-1: the last six of the eight printed digits."""
    secret = base64.b32encode(b"12345678901234567890")

    shown = [code_of_app(secret, at) for at in (59, 1111111109, 1111111111, 1234567890, 2000000000)]

    assert shown == ["287082", "081804", "050471", "005924", "279037"]


def test_once_set_up_a_password_alone_does_not_let_in(fitter):
    secret, _ = set_up(signed_in())
    client = Client()

    first = try_password(client, PASSWORD)
    between = is_in(client)
    client.post("/sign-in/second/", {"code": code_of_app(secret)})

    assert first.url.startswith("/sign-in/second/")
    assert not between
    assert is_in(client)


def test_a_code_by_e_mail_does_not_go_around_it(fitter):
    set_up(signed_in())
    mail.outbox.clear()
    client = Client()

    client.post("/sign-in/code/", {"email": "fen@example.org"})
    answer = client.post("/sign-in/code/enter/", {"code": code_in(mail.outbox[0])})

    assert answer.url.startswith("/sign-in/second/")
    assert not is_in(client)


def test_a_code_of_the_app_works_once(fitter):
    secret, _ = set_up(signed_in())
    clients = [Client(), Client()]
    code = code_of_app(secret)

    for client in clients:
        try_password(client, PASSWORD)
        client.post("/sign-in/second/", {"code": code})

    assert [is_in(client) for client in clients] == [True, False]


def test_a_recovery_code_works_once(fitter):
    _, codes = set_up(signed_in())
    clients = [Client(), Client()]

    for client in clients:
        try_password(client, PASSWORD)
        client.post("/sign-in/second/", {"code": codes[0]})

    assert len(set(codes)) == 10
    assert [is_in(client) for client in clients] == [True, False]


def test_codes_cannot_be_guessed_through(fitter):
    secret, _ = set_up(signed_in())
    for _ in range(5):
        client = Client()
        try_password(client, PASSWORD)
        client.post("/sign-in/second/", {"code": "000000"})

    answer = client.post("/sign-in/second/", {"code": code_of_app(secret)})

    assert "Too many tries from here" in answer.content.decode()
    assert not is_in(client)


def test_a_request_without_a_code_is_refused_and_breaks_nothing(fitter):
    set_up(signed_in())
    client = Client()
    try_password(client, PASSWORD)

    answer = client.post("/sign-in/second/", {})

    assert answer.status_code == 200
    assert not is_in(client)


def test_the_secret_and_the_codes_are_not_stored_in_clear(fitter):
    secret, codes = set_up(signed_in())

    stored = str(list(Authenticator.objects.values_list("data", flat=True)))
    assert Authenticator.objects.count() == 2
    assert secret not in stored
    assert not any(code in stored for code in codes)


def test_setting_up_asks_for_the_password_once_more(fitter):
    client = signed_in()

    answer = client.get("/account/second/")

    assert answer.url.startswith("/account/again/")


def test_setting_it_up_ends_visits_that_began_without(fitter):
    early = signed_in()
    set_up(signed_in())

    assert not is_in(early)


def test_it_is_given_up_by_its_owner_who_is_told(fitter):
    client = signed_in()
    set_up(client)
    mail.outbox.clear()

    client.post("/account/second/end/")

    assert not Authenticator.objects.exists()
    assert "takes no second factor any more" in mail.outbox[0].body


@pytest.mark.parametrize("who", ["fitter", "stock_manager", "crew", "director", "inspector", "tester"])
def test_where_it_is_the_rule_every_role_is_led_to_it(request, rule, as_, who):
    client = as_(request.getfixturevalue(who))

    for address in ("/", "/trailer/", "/desk/", "/garage/", "/invitations/", "/units/", "/account/visits/"):
        assert client.get(address).url == "/account/second/", address
    assert client.get("/account/").status_code == 200
    assert client.get("/api/v1/me").status_code == 401


def test_with_it_a_role_works_and_the_api_answers(rule, fitter):
    client = signed_in()

    set_up(client)

    assert client.get("/trailer/").status_code == 200
    assert client.get("/api/v1/me").status_code == 200
    assert not lacks_second_factor(fitter)


def test_riders_need_none(rule, as_, rider):
    client = as_(rider.person)

    assert client.get("/garage/").status_code == 200
    assert client.get("/api/v1/me").status_code == 200


def test_without_the_rule_nobody_is_held_up(as_, fitter):
    assert as_(fitter).get("/trailer/").status_code == 200


def test_the_rule_costs_one_question(fitter, django_assert_num_queries):
    with django_assert_num_queries(1):
        lacks = lacks_second_factor(fitter)

    assert lacks


@pytest.mark.django_db(transaction=True)
def test_the_trail_tells_of_a_second_factor_and_of_a_new_password_but_not_what_opens(fitter):
    client = signed_in()
    secret, codes = set_up(client)
    client.post(
        "/account/password/",
        {"oldpassword": PASSWORD, "password1": "another trailer", "password2": "another trailer"},
    )

    lines = Change.objects.filter(person=fitter, what="corrected").order_by("at", "id")

    told = {line.after["way_in"] for line in lines}
    assert told == {"totp authenticator added", "recovery codes added", "new password"}
    written = str(list(Change.objects.values()))
    assert not [word for word in (secret, *codes, "another trailer") if word in written]
    page = client.get("/history/").content.decode()
    assert "new password" in page
