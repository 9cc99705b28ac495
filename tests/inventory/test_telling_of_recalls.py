"""Riders are told of a recall once for each tire, by the service or by a person, whenever the tire comes to be touched."""

import uuid
from datetime import timedelta

import pytest

from fleet.accounts.policy import SERVICE
from fleet.catalogue.actions import add_line, add_spec
from fleet.errors import InTheFuture, Invalid, NotAllowed, NotFound
from fleet.garage.actions import register_rider
from fleet.inventory.actions import add_own_tire, lift_recall, record_contact
from fleet.inventory.models import RecallContact
from fleet.inventory.tasks import tell_recalled
from fleet.inventory.telling import tell_recalled as tell_at
from fleet.notices.models import Notice


def told(person):
    return list(Notice.objects.filter(person=person, topic="recall").values_list("sentence", flat=True))


@pytest.fixture
def walk_in(tarn, front_spec, now):
    """A customer of Tarn's without an account, with a front of the recalled weeks."""
    rider = register_rider(by=SERVICE, code="r-009", name="Wren Fallow", registered_with=tarn)
    add_own_tire(by=SERVICE, at=now, rider=rider, spec=front_spec, identification="0826")
    return rider


@pytest.fixture
def contact(walk_in, tarn, now):
    def do(notice, **changes):
        given = {"by": SERVICE, "at": now, "rider": walk_in, "told_for": tarn, "way": "phone", "told_at": now}
        return record_contact(notice=notice, **(given | changes))

    return do


def test_the_owner_is_told_what_is_wrong_and_what_to_do_and_once(recall, own_tire, rider_person, now):
    recall()

    assert tell_at(at=now) == 1
    assert tell_at(at=now + timedelta(minutes=1)) == 0

    assert told(rider_person) == [
        f"Recall W-14 by Mirrin: do not ride on your front tire {own_tire.label_code}. "
        "Bring it to your vendor: it is exchanged."
    ]
    assert Notice.objects.get().told_at == now


def test_where_the_number_is_unknown_the_owner_is_asked_to_have_it_read(
    recall, rider, rider_person, front_spec, now
):
    add_own_tire(by=SERVICE, at=now, rider=rider, spec=front_spec)
    recall()

    tell_at(at=now)

    assert "may cover your front tire" in told(rider_person)[0]
    assert "before its sidewall was read" in told(rider_person)[0]


def test_a_tire_that_comes_later_is_told_of_later(recall, rider, rider_person, front_spec, now):
    recall()
    assert tell_at(at=now) == 0

    add_own_tire(by=SERVICE, at=now, rider=rider, spec=front_spec, identification="0826")

    assert tell_at(at=now) == 1
    assert len(told(rider_person)) == 1


def test_two_notices_on_one_tire_are_told_each(recall, own_tire, rider_person, now):
    recall()
    recall(reference="W-15")

    assert tell_at(at=now) == 2
    assert len(told(rider_person)) == 2


def test_a_lifted_notice_is_told_to_nobody(recall, own_tire, now):
    lift_recall(by=SERVICE, at=now, notice=recall(), reason="taken back")

    assert tell_at(at=now) == 0


def test_a_rider_without_an_account_is_told_by_nobody_but_a_person(recall, walk_in, contact, fitter, now):
    notice = recall()
    assert tell_at(at=now) == 0

    said = contact(notice, by=fitter)

    assert (said.rider, said.recorded_by, said.get_way_display()) == (walk_in, fitter, "By phone")


def test_the_longest_words_still_fit_in_a_message(recall, rider, rider_person, now):
    line = add_line(by=SERVICE, maker="M" * 60, name="L" * 60, category="slick")
    spec = add_spec(
        by=SERVICE,
        line=line,
        code="long-f",
        axle="front",
        size="120/70 ZR17 M/C (58W)",
        new_depth_mm=5.0,
        wear_limit_mm=1.0,
    )
    add_own_tire(by=SERVICE, at=now, rider=rider, spec=spec, label_code="L" * 12)
    recall(spec=None, line=line, reference="R" * 40, issued_by="I" * 80, what_to_do="W" * 160)

    tell_at(at=now)

    assert told(rider_person)[0].endswith("W" * 160)
    assert len(told(rider_person)[0]) <= 400


def test_the_job_tells(recall, own_tire, rider_person):
    recall()

    assert tell_recalled() == 1
    assert len(told(rider_person)) == 1


def test_a_contact_is_made_for_ones_own_customers_or_entrants_only(
    recall, contact, stranger, inspector, crew, rider_person, breckside, tarn, longfield
):
    notice = recall()

    for nobody, organisation in (
        (stranger, breckside),
        (stranger, tarn),
        (inspector, longfield),
        (rider_person, tarn),
    ):
        with pytest.raises(NotFound):
            contact(notice, by=nobody, told_for=organisation)
    with pytest.raises(NotAllowed):
        contact(notice, by=crew, told_for=longfield)

    assert not RecallContact.objects.exists()


def test_a_notice_of_another_organisation_is_nobodys_to_tell_of(
    recall, contact, inspector, fitter, entry, rider, longfield
):
    notice = recall(by=inspector, entered_for=longfield)

    with pytest.raises(NotFound):
        contact(notice, by=fitter)

    assert contact(notice, by=inspector, told_for=longfield, rider=rider).pk


def test_a_contact_lies_in_the_past_in_a_known_way_and_is_stored_once(recall, contact, now):
    notice, key = recall(), uuid.uuid4()
    with pytest.raises(InTheFuture):
        contact(notice, told_at=now + timedelta(hours=1))
    with pytest.raises(Invalid) as refused:
        contact(notice, way="pigeon")
    assert refused.value.field == "way"

    assert contact(notice, key=key) == contact(notice, key=key)

    assert RecallContact.objects.count() == 1
