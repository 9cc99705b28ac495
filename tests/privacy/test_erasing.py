"""What an erasure ends, what it keeps, and what has to be settled first."""

import re
from datetime import timedelta

import pytest
from allauth.usersessions.models import UserSession
from django.contrib.sessions.models import Session
from django.core import mail
from django.db import DatabaseError, transaction
from django.test import Client

from fleet.accounts.actions import give_role, make_key, make_organisation_key, use_key
from fleet.accounts.models import Change, Membership, Person, Role
from fleet.accounts.policy import SERVICE
from fleet.errors import NotFound
from fleet.events.actions import add_day, enter, record_conditions
from fleet.events.models import Conditions, Entry
from fleet.garage.actions import share
from fleet.garage.models import Sharing
from fleet.garage.queries import riders_to_invite
from fleet.guards import unguarded
from fleet.inventory.actions import accept_tire, add_own_tire, offer_tire, place_hold, remove_tire
from fleet.inventory.queries import is_on_hold, riders_served
from fleet.pressures.actions import draft_day, issue_bulletin
from fleet.pressures.content import digest_of
from fleet.privacy.actions import erase
from fleet.privacy.errors import LastInCharge
from fleet.running.actions import note_surface, record_tread
from fleet.running.models import SurfaceNote
from tests.conftest import somebody
from tests.pages.test_sign_in import code_in

CODE = re.compile(r"^[A-Z0-9]{3,}(?:-[A-Z0-9]+)*$", re.MULTILINE)


@pytest.fixture
def bulletin(day, entry, fitted, now):
    """The day's bulletin, whose weather Robin read off a thermometer."""
    record_conditions(
        by=SERVICE,
        at=now,
        day=day,
        holds_at=now,
        standing="observed",
        source="Robin Vale's thermometer",
        air_c=22.0,
        track_surface_c=35.0,
        altimeter_kpa=101.6,
    )
    draft_day(by=SERVICE, at=now, day=day)
    return issue_bulletin(by=SERVICE, at=now, day=day)


def test_an_erased_account_cannot_be_entered_in_any_way(rider, now):
    erase(by=rider.person, at=now)

    client = Client()
    client.post("/sign-in/", {"login": "robin@example.org", "password": "open the trailer"})
    client.post("/sign-in/code/", {"email": "robin@example.org"})
    client.post("/password/", {"email": "robin@example.org"})

    assert client.get("/account/").status_code == 302
    assert [message.body for message in mail.outbox if CODE.search(message.body)] == []


def test_a_code_asked_for_a_moment_ago_lets_nobody_in(rider, now):
    begun = Client()
    begun.post("/sign-in/code/", {"email": "robin@example.org"})
    code = code_in(mail.outbox[0])

    erase(by=rider.person, at=now)

    begun.post("/sign-in/code/enter/", {"code": code})
    assert begun.get("/account/").status_code == 302


def test_no_visit_and_no_beginning_of_one_is_left(rider, other_rider, now):
    begun = Client()
    for client, email in ((Client(), "robin@example.org"), (Client(), "ottie@example.org")):
        client.post("/sign-in/", {"login": email, "password": "open the trailer"})
    begun.post("/sign-in/code/", {"email": "robin@example.org"})
    assert (Session.objects.count(), UserSession.objects.count()) == (3, 2)

    erase(by=rider.person, at=now)

    assert [visit.user for visit in UserSession.objects.all()] == [other_rider.person]
    assert [one.get_decoded()["_auth_user_id"] for one in Session.objects.all()] == [
        str(other_rider.person_id)
    ]


def test_keys_end_with_the_account_and_those_it_made_for_an_organisation_too(stock_manager, tarn, now):
    give_role(by=SERVICE, person=somebody("Second Manager"), organisation=tarn, role=Role.STOCK_MANAGER)
    _, own = make_key(by=stock_manager, at=now, name="van", scopes=["read"])
    _, houses = make_organisation_key(
        by=stock_manager, at=now, organisation=tarn, role=Role.FITTER, name="scale", scopes=["read"]
    )
    assert use_key(token=own, at=now)
    assert use_key(token=houses, at=now)

    erase(by=stock_manager, at=now)

    assert use_key(token=own, at=now) is None
    assert use_key(token=houses, at=now) is None
    assert not Membership.objects.filter(person=stock_manager).exists()


@pytest.mark.parametrize("who", ["stock_manager", "director"])
def test_the_only_one_in_charge_hands_over_first(request, who, now):
    person = request.getfixturevalue(who)

    with pytest.raises(LastInCharge, match=f"the only .*{who.split('_')[-1]} of .*: have somebody else made"):
        erase(by=person, at=now)

    person.refresh_from_db()
    assert person.email.endswith("@example.org")


def test_a_program_is_nobody_to_hand_over_to(director, longfield, now):
    make_organisation_key(
        by=director, at=now, organisation=longfield, role=Role.DIRECTOR, name="board", scopes=["read"]
    )

    with pytest.raises(LastInCharge):
        erase(by=director, at=now)


def test_who_has_a_successor_may_go(director, longfield, now):
    give_role(by=SERVICE, person=somebody("Next Director"), organisation=longfield, role=Role.DIRECTOR)

    erase(by=director, at=now)

    director.refresh_from_db()
    assert (director.name, director.is_active) == ("Erased person", False)


def test_what_somebody_wrote_for_an_organisation_stays_by_an_erased_person(fitter, rider, fitted, tarn, now):
    reading = record_tread(
        by=fitter, at=now, tire=fitted["rear"].tire, zone="C", taken_at=now, depth_mm=5.1, vendor=tarn
    )

    erase(by=fitter, at=now)

    reading.refresh_from_db()
    assert reading.depth_mm == 5.1
    assert (reading.recorded_by_id, str(reading.recorded_by)) == (fitter.pk, "Erased person")
    rider.refresh_from_db()
    assert rider.name == "Robin Vale"


def test_a_held_tire_stays_held_and_its_vendor_still_finds_it(rider, fitted, tarn, fitter, now):
    tire = fitted["front"].tire
    place_hold(by=SERVICE, at=now, tire=tire, placed_for=tarn, reason="recall", note="", placed_at=now)

    erase(by=rider.person, at=now)

    assert is_on_hold(tire)
    assert [str(one) for one in riders_served(fitter)] == ["Erased rider"]
    assert not riders_to_invite(fitter).exists()


def test_coming_days_are_left_and_past_ones_keep_no_number(
    rider, bike, event, layout, group, day, entry, now
):
    later = add_day(by=SERVICE, event=event, date=day.date + timedelta(days=9), layout=layout)
    coming = enter(by=SERVICE, day=later, bike=bike, group=group, number="27")
    revision = later.revision

    erase(by=rider.person, at=now + timedelta(days=3))

    assert not Entry.objects.filter(pk=coming.pk).exists()
    entry.refresh_from_db()
    later.refresh_from_db()
    assert entry.number != "27"
    assert later.revision > revision
    line = Change.objects.get(row=coming.pk, what="withdrawn")
    assert (line.rider, line.organisation) == (rider.pk, event.organiser)


def test_permissions_are_taken_back(rider, longfield, now):
    share(by=rider.person, rider=rider, organisation=longfield, scope="stints", at=now)

    erase(by=rider.person, at=now)

    assert Sharing.objects.get().withdrawn_at == now


def test_a_name_in_a_frozen_bulletin_goes_and_the_bulletin_stays_frozen(bulletin, rider, now):
    weather = {"conditions", "parts"}
    figures = {name: value for name, value in bulletin.content.items() if name not in weather}
    assert "Robin Vale" in bulletin.content["conditions"]["source"]

    erase(by=rider.person, at=now)

    bulletin.refresh_from_db()
    assert bulletin.content["conditions"]["source"] == "(erased)'s thermometer"
    assert [part["conditions"]["source"] for part in bulletin.content["parts"]] == ["(erased)'s thermometer"]
    assert {name: value for name, value in bulletin.content.items() if name not in weather} == figures
    assert bulletin.digest == digest_of(bulletin.content)
    assert Conditions.objects.get().source == "(erased)'s thermometer"
    with pytest.raises(DatabaseError, match="pressures_bulletin_frozen"), transaction.atomic():
        type(bulletin).objects.filter(pk=bulletin.pk).update(number=7)


def test_the_trail_tells_that_it_happened_and_keeps_what_was_done(rider, bike, now):
    erase(by=rider.person, at=now)

    assert Change.objects.filter(row=rider.pk, what="erased", by=rider.person).exists()
    made = Change.objects.get(row=bike.pk, what="made")
    assert made.after["description"] == "(erased)"
    assert made.after["rear_rim_in"] == 6.0


def test_nobody_erases_or_takes_out_another(rider, other_rider, now):
    with pytest.raises(NotFound):
        erase(by=other_rider.person, at=now, rider=rider)

    assert Person.objects.get(pk=rider.person_id).name == "Robin Vale"


def test_who_gave_a_tire_away_takes_their_words_along_and_the_taker_only_their_own(
    rider, other_rider, rider_person, fitted, now
):
    tire = fitted["front"].tire
    note_surface(by=rider_person, at=now, tire=tire, look="even", seen_at=now, words="my own words")
    remove_tire(
        by=rider_person,
        at=now,
        fitting=fitted["front"],
        removed_at=now,
        reason="sold",
        destination="handed_back",
    )
    later = now + timedelta(minutes=1)
    _offer, token = offer_tire(by=rider_person, at=later, tire=tire)
    accept_tire(by=other_rider.person, at=later, token=token)

    erase(by=other_rider.person, at=later)
    assert SurfaceNote.objects.get().words == "my own words"
    erase(by=rider_person, at=later)

    assert SurfaceNote.objects.get().words == ""


def test_links_to_tires_end_with_their_giver(rider, rider_person, front_spec, now):
    tire = add_own_tire(by=rider_person, at=now, rider=rider, spec=front_spec)
    offer, _token = offer_tire(by=rider_person, at=now, tire=tire)

    erase(by=rider_person, at=now)

    offer.refresh_from_db()
    assert offer.withdrawn_at == now


def test_a_name_goes_out_of_the_weather_of_a_later_part_too(bulletin, rider, now):
    later = {
        "name": "afternoon",
        "starts_at": "2026-06-12T14:00:00+01:00",
        "ends_at": "2026-06-13T00:00:00+01:00",
        "conditions": {"source": "seen by Robin Vale"},
    }
    content = bulletin.content | {"parts": [later], "conditions": {"source": "thermometer"}}
    with unguarded("pressures_bulletin", "pressures_bulletin_frozen"):
        type(bulletin).objects.filter(pk=bulletin.pk).update(content=content)

    erase(by=rider.person, at=now)

    bulletin.refresh_from_db()
    assert "Robin" not in str(bulletin.content)
