"""Who is sent where, and who is kept out."""

import pytest
from django.test import Client
from django.urls import reverse

from fleet.accounts.actions import give_role
from fleet.accounts.models import Role
from fleet.accounts.policy import SERVICE
from fleet.garage.actions import register_rider
from fleet.pages.errors import broken


@pytest.mark.parametrize(
    ("who", "place"),
    [
        ("fitter", "trailer"),
        ("stock_manager", "trailer"),
        ("crew", "desk"),
        ("director", "desk"),
        ("inspector", "desk"),
        ("tester", "desk"),
    ],
)
def test_a_role_opens_its_own_place(request, as_, who, place):
    person = request.getfixturevalue(who)

    answer = as_(person).get("/", follow=True)

    assert answer.redirect_chain == [(reverse(place), 302)]
    assert answer.status_code == 200


def test_a_rider_is_sent_to_the_garage(as_, rider):
    answer = as_(rider.person).get("/")

    assert answer.url == reverse("garage")


def test_somebody_with_several_roles_switches_between_places(as_, crew, longfield):
    give_role(by=SERVICE, person=crew, organisation=longfield, role=Role.INSPECTOR)
    register_rider(by=SERVICE, code="r-007", name="Corin Bly", person=crew)

    page = as_(crew).get("/garage/").content.decode()

    assert '<a href="/garage/" aria-current="true">Garage</a>' in page
    assert '<a href="/desk/">Event desk</a>' in page
    assert "/trailer/" not in page


def test_somebody_without_a_role_is_told_whom_to_ask(as_, rider_person):
    answer = as_(rider_person).get("/")

    assert "no organisation gave you a role yet" in answer.content.decode()


@pytest.mark.parametrize(
    ("who", "place"),
    [("fitter", "desk"), ("crew", "trailer"), ("director", "garage"), ("inspector", "trailer")],
)
def test_a_place_of_another_role_says_whom_it_is_for(request, as_, who, place):
    person = request.getfixturevalue(who)

    answer = as_(person).get(reverse(place))

    assert answer.status_code == 403
    assert "is for" in answer.content.decode()


@pytest.mark.parametrize("place", ["trailer", "garage", "desk", "units", "find"])
def test_nobody_is_asked_to_sign_in_first(db, place):
    answer = Client().get(reverse(place))

    assert answer.status_code == 302
    assert answer.url.startswith("/sign-in/?next=")


def test_a_person_signs_in_with_any_case_of_the_address(fitter):
    client = Client()

    answer = client.post("/sign-in/", {"login": "FEN@example.org", "password": "open the trailer"})

    assert answer.status_code == 302
    assert client.get("/trailer/").status_code == 200


def test_a_wrong_password_keeps_the_address_and_says_what_to_check(fitter):
    answer = Client().post("/sign-in/", {"login": "fen@example.org", "password": "something else"})

    page = answer.content.decode()
    assert 'value="fen@example.org"' in page
    assert "check both" in page
    assert "something else" not in page


def test_signing_out_ends_the_visit(as_, fitter):
    client = as_(fitter)

    client.post("/sign-out/")

    assert client.get("/trailer/").status_code == 302


def test_an_outside_address_is_not_followed_after_signing_in(fitter):
    answer = Client().post(
        "/sign-in/?next=https://elsewhere.example/",
        {"login": "fen@example.org", "password": "open the trailer", "next": "https://elsewhere.example/"},
    )

    assert answer.url == "/"


def test_units_are_kept_and_shown(as_, rider, assessed, guidance):
    client = as_(rider.person)

    answer = client.post(
        "/units/",
        {"pressure_unit": "bar", "temperature_unit": "F", "depth_unit": "32nds", "distance_unit": "mi"},
    )

    assert answer.status_code == 302
    page = client.get("/garage/").content.decode()
    assert '<span class="unit">bar</span>' in page
    assert "72\N{NO-BREAK SPACE}°F" in page


def test_an_unknown_unit_is_refused(as_, rider):
    answer = as_(rider.person).post("/units/", {"pressure_unit": "stone"})

    assert answer.status_code == 422
    assert "Not stored yet" in answer.content.decode()


def test_health_needs_no_account(db):
    live, ready = Client().get("/health/live"), Client().get("/health/ready")

    assert (live.status_code, ready.status_code) == (200, 200)


def test_an_address_that_leads_nowhere_has_our_own_page(as_, fitter):
    answer = as_(fitter).get("/no-such-page/")

    assert answer.status_code == 404
    assert "This address leads nowhere" in answer.content.decode()


def test_a_form_from_an_old_visit_is_refused_in_words(fitter):
    client = Client(enforce_csrf_checks=True)

    answer = client.post("/sign-in/", {"login": "fen@example.org", "password": "open the trailer"})

    assert answer.status_code == 403
    assert "This form is too old" in answer.content.decode()


def test_an_error_of_our_own_has_a_page_without_the_database(rf):
    answer = broken(rf.get("/"))

    assert answer.status_code == 500
    assert "Something broke on our side" in answer.content.decode()


def test_pages_carry_the_strict_policy(as_, fitter):
    answer = as_(fitter).get("/trailer/")

    policy = answer.headers["Content-Security-Policy"]
    assert "default-src 'none'" in policy
    assert "unsafe" not in policy
    page = answer.content.decode()
    assert " style=" not in page
    assert "<style" not in page
