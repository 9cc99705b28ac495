"""Who works for an organisation, as its people see and change it."""

import re

import pytest
from django.test import Client
from django.urls import reverse

from fleet.accounts.models import Membership, RoleOffer
from tests.conftest import somebody

LINK = re.compile(r'value="http://testserver(/role/[^"]+/)"')


@pytest.fixture
def offer(sure, director, longfield):
    """Return the link that gives a role."""

    def made(role="inspector"):
        typed = {"role": f"{longfield.pk}/{role}", "meant_for": "Ida Moss"}
        return LINK.search(sure(director).post(reverse("people"), typed).content.decode())[1]

    return made


def test_a_link_is_shown_once_and_followed_by_somebody_new(as_, offer, director, longfield):
    link = offer()
    newcomer = somebody("Ida Moss")

    shown = Client().get(link).content.decode()
    answer = as_(newcomer).post(link, follow=True)

    assert "Longfield Track Days offers you a role" in shown
    assert "You are tech inspector at Longfield Track Days now." in answer.content.decode()
    assert newcomer.memberships.get().role == "inspector"
    assert link not in as_(director).get(reverse("people")).content.decode()


def test_nobody_takes_a_role_without_signing_in(offer):
    link = offer()

    answer = Client().post(link)

    assert answer.status_code == 404 or answer.url.startswith("/sign-in/")
    assert RoleOffer.objects.get().taken_at is None


def test_a_link_that_is_no_more_says_so(as_, offer, crew, director):
    link = offer()
    as_(director).post(reverse("withdraw-offer", args=[RoleOffer.objects.get().pk]))

    answer = as_(crew).get(link)

    assert answer.status_code == 404
    assert "was used or is over" in answer.content.decode()


def test_the_list_shows_colleagues_to_whoever_gives_roles_and_oneself_to_others(as_, crew, director, fitter):
    managed, own = (as_(person).get(reverse("people")).content.decode() for person in (director, crew))

    assert crew.name in managed
    assert crew.email in managed
    assert fitter.name not in managed
    assert crew.name in own
    assert director.name not in own


def test_somebody_without_a_role_is_told_how_to_get_one(as_, rider_person):
    assert "Somebody there can offer you one" in as_(rider_person).get(reverse("people")).content.decode()


def test_ending_a_role_shuts_its_place_at_once(as_, crew, director):
    before = as_(crew).get("/desk/").status_code

    as_(director).post(reverse("end-role", args=[crew.memberships.get().pk]))

    assert before == 200
    assert as_(crew).get("/desk/").status_code in {302, 403, 404}


def test_the_last_director_is_told_why_they_stay(as_, director):
    answer = (
        as_(director)
        .post(reverse("end-role", args=[director.memberships.get().pk]), follow=True)
        .content.decode()
    )

    assert "Nobody else at Longfield Track Days could give roles any more" in answer
    assert director.memberships.exists()


def test_roles_and_offers_of_others_are_not_there(as_, offer, crew, stock_manager):
    offer()
    client = as_(stock_manager)

    answers = [
        client.post(reverse("end-role", args=[crew.memberships.get().pk])),
        client.post(reverse("withdraw-offer", args=[RoleOffer.objects.get().pk])),
    ]

    assert [answer.status_code for answer in answers] == [404, 404]
    assert Membership.objects.filter(person=crew).exists()


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ({"meant_for": ""}, "For is missing: fill it in."),
        ({"role": "no/such"}, "Select a valid choice"),
        ({"meant_for": "x" * 101}, "at most 100 characters"),
    ],
)
def test_what_cannot_be_right_is_said_at_its_field(sure, director, longfield, typed, sentence):
    answer = sure(director).post(
        reverse("people"), {"role": f"{longfield.pk}/crew", "meant_for": "Ida"} | typed
    )

    assert answer.status_code == 422
    assert sentence in answer.content.decode()
    assert not RoleOffer.objects.exists()


def test_an_open_page_alone_offers_no_role(as_, director, longfield):
    answer = as_(director).post(reverse("people"), {"role": f"{longfield.pk}/crew", "meant_for": "Ida"})

    assert answer.url.startswith("/account/again/")
    assert not RoleOffer.objects.exists()
