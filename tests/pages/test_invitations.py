"""A walk-in's record is taken over by a link that works once, says little, and ends."""

import re
from datetime import timedelta
from functools import partial

import pytest
from django.core import mail
from django.test import Client

from fleet.accounts.policy import SERVICE
from fleet.errors import NotAllowed, NotFound
from fleet.garage.actions import (
    add_bike,
    claim_record,
    invite,
    open_garage,
    register_rider,
    revoke_invitation,
)
from fleet.garage.errors import HasAnAccount, RidesAlready
from fleet.garage.models import Invitation, Rider
from fleet.garage.queries import standing_invitation
from tests.conftest import somebody
from tests.pages.test_sign_in import code_in
from tests.pages.test_sign_up import NEW
from tests.racing import at_once

GONE = "This invitation was used or is over"


@pytest.fixture
def walk_in(tarn):
    rider = register_rider(
        by=SERVICE, code="r-walk", name="Wyn Tarrow", registered_with=tarn, contact="box 7"
    )
    add_bike(by=SERVICE, rider=rider, code="b-walk", description="600 sport")
    return rider


@pytest.fixture
def link(as_, fitter, walk_in):
    page = as_(fitter).post("/invitations/", {"rider": "R-WALK"}).content.decode()
    return re.search(r'value="http://testserver(/invitation/[^"]+)"', page).group(1)


def test_a_walk_in_signs_up_and_takes_the_record_over(link, walk_in):
    client = Client()

    page = client.get(link).content.decode()
    sign_up = re.search(r'href="(/sign-up/[^"]+)"', page).group(1)
    client.post(sign_up, {**NEW, "next": link})
    confirmed = client.post("/sign-up/confirm/", {"code": code_in(mail.outbox[0])})
    claimed = client.post(confirmed.url)

    assert confirmed.url == link
    assert claimed.url == "/garage/"
    walk_in.refresh_from_db()
    assert walk_in.person.email == "wyn@example.org"
    assert Rider.objects.get() == walk_in


def test_somebody_with_an_account_signs_in_and_takes_it_over(link, walk_in, rider_person):
    client = Client()

    client.post("/sign-in/", {"login": "robin@example.org", "password": "open the trailer", "next": link})
    client.post(link)

    walk_in.refresh_from_db()
    assert walk_in.person == rider_person


def test_a_link_ends_with_the_role_of_whoever_made_it(link, as_, fitter, walk_in):
    as_(fitter).get(link)
    fitter.memberships.all().delete()

    answers = [as_(fitter).post(link), Client().get(link)]

    assert [answer.status_code for answer in answers] == [404, 404]
    walk_in.refresh_from_db()
    assert walk_in.person is None


def test_the_link_says_nothing_of_the_rider(link, as_, stranger):
    for client in (Client(), as_(stranger)):
        answer = client.get(link)

        page = answer.content.decode()
        assert "Tarn Tire Service invites you" in page
        assert "no-store" in answer.headers["Cache-Control"]
        assert not any(word in page for word in ("Wyn", "Tarrow", "r-walk", "600 sport", "box 7"))


def test_a_link_works_once(link, walk_in, as_, rider_person, stranger):
    first = as_(rider_person).post(link)

    second = as_(stranger).post(link)

    assert first.status_code == 302
    assert second.status_code == 404
    assert GONE in second.content.decode()
    walk_in.refresh_from_db()
    assert walk_in.person == rider_person


def test_looking_at_a_link_does_not_use_it(link, as_, rider_person, walk_in):
    for _ in range(3):
        as_(rider_person).get(link)

    walk_in.refresh_from_db()
    assert walk_in.person is None
    assert as_(rider_person).post(link).status_code == 302


def test_used_over_revoked_and_invented_links_are_told_apart_by_nobody(as_, fitter, walk_in, tarn, link, now):
    client, pages = Client(), []
    Invitation.objects.update(expires_at=now)
    pages.append(client.get(link))
    Invitation.objects.update(expires_at=now + timedelta(days=1), revoked_at=now)
    pages.append(client.get(link))
    Invitation.objects.update(revoked_at=None, claimed_at=now, claimed_by=fitter)
    pages.append(client.get(link))
    pages.append(client.get("/invitation/" + "A" * 43 + "/"))

    assert {answer.status_code for answer in pages} == {404}
    assert len({answer.content for answer in pages}) == 1
    assert GONE in pages[0].content.decode()


def test_it_holds_fourteen_days(fitter, walk_in, now):
    _, token = invite(by=fitter, at=now, rider=walk_in)

    standing_invitation(token, at=now + timedelta(days=14, seconds=-1))
    with pytest.raises(NotFound, match="is over"):
        standing_invitation(token, at=now + timedelta(days=14))


def test_only_a_digest_is_stored(fitter, walk_in, now):
    invitation, token = invite(by=fitter, at=now, rider=walk_in)

    stored = " ".join(str(value) for value in Invitation.objects.values().get(pk=invitation.pk).values())
    assert len(token) == 43
    assert token not in stored


def test_a_new_invitation_ends_the_earlier_one(fitter, walk_in, now):
    _, first = invite(by=fitter, at=now, rider=walk_in)
    _, second = invite(by=fitter, at=now, rider=walk_in)

    with pytest.raises(NotFound):
        standing_invitation(first, at=now)
    assert standing_invitation(second, at=now).rider == walk_in


def test_the_crew_revokes_it_and_strangers_cannot(link, as_, fitter, stranger):
    invitation = Invitation.objects.get()
    address = f"/invitations/{invitation.pk}/revoke/"

    by_stranger = as_(stranger).post(address)
    before = Client().get(link).status_code
    by_crew = as_(fitter).post(address)

    assert (by_stranger.status_code, before, by_crew.status_code) == (404, 200, 302)
    assert Client().get(link).status_code == 404


@pytest.mark.parametrize("who", ["fitter", "stock_manager"])
def test_the_vendors_crew_may_invite(request, who, walk_in, now):
    invitation, _ = invite(by=request.getfixturevalue(who), at=now, rider=walk_in)

    assert invitation.rider == walk_in


@pytest.mark.parametrize("who", ["crew", "director"])
def test_an_organisers_crew_invites_whom_it_registered(request, who, walk_in, longfield, now):
    own = register_rider(by=SERVICE, code="r-gate", name="Gil Moss", registered_with=longfield)
    person = request.getfixturevalue(who)

    invite(by=person, at=now, rider=own)

    with pytest.raises(NotFound):
        invite(by=person, at=now, rider=walk_in)


@pytest.mark.parametrize("who", ["inspector", "tester"])
def test_other_roles_do_not_invite(request, as_, who, longfield, now):
    own = register_rider(by=SERVICE, code="r-gate", name="Gil Moss", registered_with=longfield)
    person = request.getfixturevalue(who)

    with pytest.raises(NotAllowed):
        invite(by=person, at=now, rider=own)
    assert as_(person).get("/invitations/").status_code == 403


def test_a_strangers_walk_in_is_not_found_by_its_code(as_, stranger, walk_in):
    answer = as_(stranger).post("/invitations/", {"rider": "r-walk"})

    assert answer.status_code == 422
    assert "No rider without an account" in answer.content.decode()
    assert not Invitation.objects.exists()


def test_a_rider_with_an_account_is_not_invited(fitter, rider, now):
    with pytest.raises(HasAnAccount):
        invite(by=fitter, at=now, rider=rider)


def test_an_empty_garage_gives_way_and_a_used_one_does_not(fitter, walk_in, rider_person, bike, now):
    newcomer = somebody("Wyn Tarrow")
    open_garage(by=newcomer)
    _, token = invite(by=fitter, at=now, rider=walk_in)

    with pytest.raises(RidesAlready):
        claim_record(by=rider_person, at=now, token=token)
    claimed = claim_record(by=newcomer, at=now, token=token)

    assert claimed == walk_in
    assert list(Rider.objects.filter(person=newcomer)) == [walk_in]


def test_somebody_elses_revoking_after_the_claim_changes_nothing(fitter, walk_in, rider_person, now):
    invitation, token = invite(by=fitter, at=now, rider=walk_in)
    claim_record(by=rider_person, at=now, token=token)

    revoke_invitation(by=fitter, at=now, invitation=invitation)

    invitation.refresh_from_db()
    assert (invitation.claimed_by, invitation.revoked_at) == (rider_person, None)


def test_whoever_came_by_an_invitation_that_ended_opens_a_garage(as_, rider_person):
    client = as_(rider_person)

    answer = client.post("/garage/begin/")

    assert answer.url == "/garage/"
    assert Rider.objects.get().person == rider_person


@pytest.mark.postgres
@pytest.mark.django_db(transaction=True)
def test_of_two_who_follow_one_link_at_the_same_moment_one_gets_the_record(walk_in, fitter, now):
    people = [somebody("Wyn Tarrow"), somebody("Sid Grey")]
    _, token = invite(by=fitter, at=now, rider=walk_in)

    answers = at_once(*[partial(claim_record, by=person, at=now, token=token) for person in people])

    walk_in.refresh_from_db()
    assert walk_in.person in people
    assert sorted(isinstance(answer, Rider) for answer in answers) == [False, True]
