"""Roles: offered by those who look after an organisation's people, taken once, ended."""

from datetime import timedelta
from functools import partial

import pytest

from fleet.accounts.actions import end_role, offer_role, take_role, withdraw_offer
from fleet.accounts.errors import LastManager, OfferOver
from fleet.accounts.models import Membership, Organisation, Role, RoleOffer
from fleet.accounts.policy import GIVES, Right, may, roles_to_give, roles_with
from fleet.errors import NotAllowed, NotFound
from tests.conftest import somebody
from tests.racing import at_once

DAY = timedelta(days=1)


@pytest.fixture
def offered(director, longfield, now):
    return offer_role(by=director, at=now, organisation=longfield, role=Role.INSPECTOR, meant_for="Ida")


@pytest.fixture
def newcomer(db):
    return somebody("Ida Moss")


def role_of(person, organisation):
    return list(organisation.memberships.filter(person=person).values_list("role", flat=True))


def test_whoever_follows_the_link_has_the_role(offered, newcomer, longfield, now):
    take_role(by=newcomer, at=now + DAY, token=offered[1])

    assert role_of(newcomer, longfield) == ["inspector"]
    assert may(newcomer, Right.HOLD, longfield)


def test_the_link_works_once(offered, newcomer, rider_person, now):
    take_role(by=newcomer, at=now, token=offered[1])

    with pytest.raises(NotFound, match="was used or is over"):
        take_role(by=rider_person, at=now, token=offered[1])


def test_who_has_the_role_does_not_use_the_link_up(offered, newcomer, inspector, now):
    with pytest.raises(OfferOver, match="meant for somebody else"):
        take_role(by=inspector, at=now, token=offered[1])

    assert take_role(by=newcomer, at=now, token=offered[1]).role == "inspector"


def test_a_link_withdrawn_over_or_wrong_gives_nothing(offered, newcomer, director, now):
    offer, token = offered

    with pytest.raises(NotFound):
        take_role(by=newcomer, at=now, token="x" * len(token))
    with pytest.raises(NotFound):
        take_role(by=newcomer, at=now + timedelta(days=7), token=token)
    withdraw_offer(by=director, at=now, offer=offer)
    with pytest.raises(NotFound):
        take_role(by=newcomer, at=now, token=token)


def test_an_offer_ends_with_the_role_of_whoever_made_it(offered, newcomer, director, longfield, now):
    somebody("Dell Marsh", longfield, Role.DIRECTOR)
    end_role(by=director, membership=director.memberships.get())

    with pytest.raises(NotFound):
        take_role(by=newcomer, at=now, token=offered[1])


def test_the_secret_is_not_stored(offered):
    offer, token = offered

    assert token not in str(RoleOffer.objects.filter(pk=offer.pk).values().get())


@pytest.mark.parametrize("role", ["fitter", "stock_manager"])
def test_a_director_gives_no_role_of_a_trailer(director, longfield, role, now):
    with pytest.raises(NotAllowed, match="does not give or end this one"):
        offer_role(by=director, at=now, organisation=longfield, role=role, meant_for="Ida")


def test_who_gives_no_roles_is_told_and_a_stranger_finds_nothing(crew, stock_manager, longfield, now):
    offer = partial(offer_role, at=now, organisation=longfield, role=Role.CREW, meant_for="Ida")

    with pytest.raises(NotAllowed):
        offer(by=crew)
    with pytest.raises(NotFound):
        offer(by=stock_manager)


def test_every_role_is_given_by_somebody_who_may():
    assert set().union(*GIVES.values()) == set(Role)
    assert set(GIVES) == set(roles_with(Right.MANAGE_PEOPLE))


def test_an_ended_role_opens_nothing_more(director, crew, longfield):
    end_role(by=director, membership=crew.memberships.get())

    assert not may(crew, Right.READ_EVENT, longfield)


def test_anybody_ends_a_role_of_their_own_and_nobody_elses(crew, inspector, longfield):
    with pytest.raises(NotAllowed):
        end_role(by=crew, membership=inspector.memberships.get())

    end_role(by=crew, membership=crew.memberships.get())

    assert role_of(crew, longfield) == []


def test_the_last_who_gives_roles_stays(director, longfield):
    with pytest.raises(LastManager, match="Nobody else at Longfield Track Days could give roles"):
        end_role(by=director, membership=director.memberships.get())

    assert roles_to_give(director, longfield) == ["crew", "director", "inspector", "tester"]


@pytest.mark.postgres
@pytest.mark.django_db(transaction=True)
def test_directors_who_end_each_other_in_a_ring_leave_one(longfield):
    people = [somebody(f"P{number} Marsh", longfield, Role.DIRECTOR) for number in range(8)]
    roles = [person.memberships.get() for person in people]

    at_once(
        *[
            partial(end_role, by=person, membership=role)
            for person, role in zip(people, roles[1:] + roles[:1], strict=True)
        ]
    )

    assert Membership.objects.filter(organisation=longfield, role="director").exists()


@pytest.mark.postgres
@pytest.mark.django_db(transaction=True)
def test_of_several_who_follow_one_link_at_once_one_has_the_role(director, longfield, now):
    _, token = offer_role(by=director, at=now, organisation=longfield, role=Role.CREW, meant_for="Ida")
    people = [somebody(f"P{number} Moss") for number in range(4)]

    answers = at_once(*[partial(take_role, by=person, at=now, token=token) for person in people])

    assert sum(isinstance(answer, Membership) for answer in answers) == 1
    assert Organisation.objects.get(pk=longfield.pk).memberships.filter(role="crew").count() == 1
