"""The page of API keys: made, shown once, listed, revoked."""

import re
from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone
from rest_framework.test import APIClient

from fleet.accounts.actions import make_key, make_organisation_key, use_key
from fleet.accounts.actions.keys import MOST_KEYS
from fleet.accounts.models import ApiKey, Role

SECRET = re.compile(r"fleet_[0-9a-f]{10}_[A-Za-z0-9_-]{43}")


def form_of(answer, **typed):
    """Return the form of a page as a browser would send it, with what was typed."""
    key = re.search(r'name="key" value="([^"]+)"', answer.content.decode())[1]
    return {"key": key, "owner": "own", "name": "script", "scopes": ["read"]} | typed


@pytest.fixture
def page(sure):
    """Return the page as somebody sees it, and what sends it back."""

    def opened(person):
        client = sure(person)
        answer = client.get(reverse("keys"))
        return answer, lambda **typed: client.post(reverse("keys"), form_of(answer, **typed))

    return opened


def test_a_key_is_shown_once_and_works(page, rider_person):
    _, send = page(rider_person)

    answer = send(name="scale in the van")

    token = SECRET.search(answer.content.decode())[0]
    client = APIClient()
    client.credentials(HTTP_AUTHORIZATION=f"Bearer {token}")
    assert client.get("/api/v1/me").json()["email"] == rider_person.email
    again = page(rider_person)[0].content.decode()
    assert "scale in the van" in again
    assert ApiKey.objects.get().prefix in again
    assert not SECRET.search(again)


def test_no_cache_keeps_the_secret(page, rider_person):
    assert "no-store" in page(rider_person)[1]()["Cache-Control"]


def test_a_form_sent_twice_makes_one_key_and_shows_nothing_again(page, rider_person):
    _, send = page(rider_person)
    send()

    answer = send()

    assert answer.status_code == 422
    assert "is not shown again" in answer.content.decode()
    assert not SECRET.search(answer.content.decode())
    assert ApiKey.objects.count() == 1


def test_a_rider_is_offered_no_organisation(page, rider_person, tarn):
    answer, send = page(rider_person)

    assert "Acts as</legend>" not in answer.content.decode()
    send(owner=f"{tarn.pk}:fitter")
    assert not ApiKey.objects.filter(organisation__isnull=False).exists()


def test_a_stock_manager_makes_a_key_for_the_trailer_and_a_fitter_does_not(page, stock_manager, fitter, tarn):
    answer, send = page(stock_manager)
    offered = re.findall(r'name="owner" value="([^"]+)"', answer.content.decode())

    made = send(owner=f"{tarn.pk}:fitter", scopes=["read", "write_fittings"])
    refused = page(fitter)[1](owner=f"{tarn.pk}:fitter")

    key = ApiKey.objects.get(organisation=tarn)
    assert offered == ["own", f"{tarn.pk}:fitter", f"{tarn.pk}:stock_manager"]
    assert use_key(token=SECRET.search(made.content.decode())[0], at=key.made_at) == key
    assert key.scopes == ["read", "write_fittings"]
    assert "Tarn Tire Service, as fitter" in made.content.decode()
    assert not SECRET.search(refused.content.decode())


def test_a_role_that_is_not_offered_is_refused(page, stock_manager, director, tarn, longfield):
    _, send = page(stock_manager)

    for owner in (f"{tarn.pk}:director", f"{longfield.pk}:crew"):
        assert send(owner=owner).status_code == 422
    assert not ApiKey.objects.exists()


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"name": ""}, "Name is missing: fill it in."),
        ({"scopes": []}, "A key without a scope opens nothing: choose one."),
        ({"scopes": ["everything"]}, "everything"),
        ({"last_day": "soon"}, "This is no date"),
        ({"last_day": "2001-01-01"}, "This moment has passed"),
        ({"last_day": "9999-12-31"}, "The year lies before 2100"),
        ({"name": "x" * 61}, "60"),
    ],
)
def test_what_cannot_be_right_is_said_at_its_field_and_what_was_typed_stays(page, rider_person, typed, said):
    answer = page(rider_person)[1](**({"name": "till"} | typed))

    text = answer.content.decode()
    assert answer.status_code == 422
    assert said in text
    assert not ApiKey.objects.exists()
    assert "name" in typed or 'value="till"' in text


def test_a_key_works_through_its_last_day(page, rider_person, now):
    last = now.date() + timedelta(days=3)

    answer = page(rider_person)[1](last_day=last.isoformat())

    token = SECRET.search(answer.content.decode())[0]
    end = ApiKey.objects.get().expires_at
    assert end.date() == last + timedelta(days=1)
    assert use_key(token=token, at=end - timedelta(seconds=1)) is not None
    assert use_key(token=token, at=end) is None


def test_revoking_is_confirmed_by_a_post_and_the_key_stays_listed(as_, rider_person, now):
    key, token = make_key(by=rider_person, at=now, name="phone", scopes=["read"])
    client = as_(rider_person)

    looked = client.get(reverse("revoke-key", args=[key.pk]))
    assert use_key(token=token, at=now) is not None
    done = client.post(reverse("revoke-key", args=[key.pk]), follow=True)

    assert looked.status_code == 405
    assert "phone" in done.content.decode()
    assert "nothing gets in with it any more" in done.content.decode()
    assert use_key(token=token, at=now) is None


def test_nobody_sees_or_revokes_a_key_that_is_not_theirs(as_, stock_manager, stranger, fitter, tarn, now):
    own, own_token = make_key(by=stock_manager, at=now, name="private", scopes=["read"])
    shared, shared_token = make_organisation_key(
        by=stock_manager, at=now, organisation=tarn, role=Role.FITTER, name="shared", scopes=["read"]
    )

    for person in (stranger, fitter):
        client = as_(person)
        text = client.get(reverse("keys")).content.decode()
        assert "private" not in text
        assert "shared" not in text
        for key in (own, shared):
            assert client.post(reverse("revoke-key", args=[key.pk])).status_code == 404

    assert use_key(token=own_token, at=now) == own
    assert use_key(token=shared_token, at=now) == shared


def test_the_list_makes_as_many_queries_for_ten_more_keys(as_, stock_manager, tarn, now):
    counted = []
    for more in (1, 10):
        for number in range(more):
            make_organisation_key(
                by=stock_manager,
                at=now,
                organisation=tarn,
                role=Role.FITTER,
                name=f"scale {number}",
                scopes=["read"],
            )
        client = as_(stock_manager)
        with CaptureQueriesContext(connection) as queries:
            text = client.get(reverse("keys")).content.decode()
        counted.append((len(queries), text.count("Acts as Tarn")))

    assert [shown for _, shown in counted] == [1, 11]
    assert counted[0][0] == counted[1][0]


def test_the_account_leads_to_the_keys(as_, rider_person):
    assert reverse("keys") in as_(rider_person).get(reverse("account")).content.decode()


def test_nobody_is_sent_to_sign_in(client, db):
    assert client.get(reverse("keys")).url.startswith(reverse("sign-in"))


def test_an_open_page_alone_makes_no_key_and_what_was_typed_is_not_lost(as_, rider_person):
    client = as_(rider_person)
    form = form_of(client.get(reverse("keys")), name="scale in the van")

    asked = client.post(reverse("keys"), form)
    made_before = ApiKey.objects.exists()
    answer = client.post(asked.url, {"password": "open the trailer", "next": reverse("keys")})

    assert asked.url.startswith("/account/again/")
    assert not made_before
    assert SECRET.search(answer.content.decode())
    assert ApiKey.objects.get().name == "scale in the van"


def test_one_key_more_than_anybody_looks_after_is_refused(page, rider_person):
    for number in range(MOST_KEYS):
        make_key(by=rider_person, at=timezone.now(), name=f"key {number}", scopes=["read"])
    _, send = page(rider_person)

    refused = send(name="one more")
    ApiKey.objects.filter(name="key 3").update(expires_at=timezone.now())
    made = send(name="one more")

    assert "20 keys are in use: revoke one" in refused.content.decode()
    assert SECRET.search(made.content.decode())
