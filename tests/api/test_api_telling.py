"""What a person is told and how, through the API: read as it stands, chosen on the state that was read."""

import pytest

from fleet.accounts.models import Change
from fleet.notices.models import Kind, TellingChoice

TELLING = "/api/v1/me/telling"


@pytest.fixture
def robin(ask, rider_person):
    return ask(rider_person)


def test_every_kind_stands_with_the_services_own_way_before_anything_was_chosen(robin):
    choices = robin.get(TELLING).json()["choices"]

    assert [one["kind"] for one in choices] == list(Kind.values)
    assert {one["kind"]: one["by_mail"] for one in choices} == {kind: kind == "stop" for kind in Kind.values}


def test_a_choice_counts_leaves_the_others_and_stands_in_the_trail(robin, rider_person):
    etag = robin.get(TELLING)["ETag"]

    answer = robin.put(
        TELLING, {"choices": [{"kind": "life", "on_page": False, "by_mail": True}]}, HTTP_IF_MATCH=etag
    )

    assert answer.status_code == 200
    chosen = TellingChoice.objects.get(person=rider_person)
    assert (chosen.kind, chosen.on_page, chosen.by_mail) == ("life", False, True)
    told = {one["kind"]: one for one in answer.json()["choices"]}
    assert told["life"] == {"kind": "life", "on_page": False, "by_mail": True}
    assert told["bulletin"]["on_page"] is True
    assert Change.objects.filter(row=chosen.pk, by=rider_person).exists()


def test_it_rests_on_the_state_that_was_read(robin):
    body = {"choices": [{"kind": "life", "on_page": False, "by_mail": True}]}
    etag = robin.get(TELLING)["ETag"]

    bare = robin.put(TELLING, body)
    taken = robin.put(TELLING, body, HTTP_IF_MATCH=etag)
    late = robin.put(TELLING, body, HTTP_IF_MATCH=etag)

    assert [answer.status_code for answer in (bare, taken, late)] == [428, 200, 412]


@pytest.mark.parametrize(
    ("choice", "said"),
    [
        ({"kind": "stop", "on_page": False, "by_mail": True}, "always said on the page"),
        ({"kind": "weather", "on_page": True, "by_mail": True}, "Give one of: stop, life"),
        ({"kind": "life", "on_page": True}, "by_mail"),
    ],
)
def test_what_cannot_be_chosen_is_refused_and_nothing_is_kept(robin, choice, said):
    answer = robin.put(TELLING, {"choices": [choice]}, HTTP_IF_MATCH="*")

    assert answer.status_code == 422
    assert said in answer.content.decode()
    assert not TellingChoice.objects.exists()


def test_nobody_signed_in_chooses_nothing(ask):
    assert ask(None).get(TELLING).status_code == 401
