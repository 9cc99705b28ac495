"""Where somebody is signed in is listed, and ended by them alone."""

import re

from django.test import Client

from tests.pages.test_second_factor import signed_in
from tests.pages.test_sign_in import is_in, try_password


def visits_in(client):
    return re.findall(r'name="visit" value="(\d+)"', client.get("/account/visits/").content.decode())


def test_the_list_tells_this_visit_from_the_others(fitter):
    here, there = signed_in(), Client()
    try_password(there, "open the trailer", REMOTE_ADDR="203.0.113.7", HTTP_USER_AGENT="Trailer tablet")

    page = here.get("/account/visits/").content.decode()

    assert "<h2>Here</h2>" in page
    assert "203.0.113.7" in page
    assert "Trailer tablet" in page


def test_one_visit_is_ended_and_the_others_go_on(fitter):
    here, ended, kept = signed_in(), signed_in(), signed_in()
    _, first = visits_in(here)

    here.post("/account/visits/end/", {"visit": first})

    assert [is_in(client) for client in (here, ended, kept)] == [True, False, True]


def test_all_others_are_ended_at_once(fitter):
    here, first, second = signed_in(), signed_in(), signed_in()

    here.post("/account/visits/end/")

    assert [is_in(client) for client in (here, first, second)] == [True, False, False]


def test_nobody_ends_or_sees_the_visits_of_another(fitter, director):
    theirs, own = signed_in("dara@example.org"), signed_in()
    signed_in("dara@example.org")
    [known] = visits_in(theirs)

    own.post("/account/visits/end/", {"visit": known})

    assert visits_in(own) == []
    assert visits_in(theirs) == [known]


def test_a_new_password_ends_every_other_visit(fitter):
    here, there = signed_in(), signed_in()

    here.post(
        "/account/password/",
        {
            "oldpassword": "open the trailer",
            "password1": "a wheel of one's own",
            "password2": "a wheel of one's own",
        },
    )

    assert [is_in(client) for client in (here, there)] == [True, False]
    assert visits_in(here) == []
