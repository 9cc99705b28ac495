"""Who can see a rider's data: the page says what the rules do, and what is taken back ends at once."""

from datetime import timedelta

import pytest
from django.urls import reverse

from fleet.accounts.models import Membership, Role
from fleet.events.queries import entrants_for
from fleet.events.seers import seers_of
from fleet.garage.models import Sharing
from fleet.inventory.queries import riders_served
from fleet.running.queries import stints_for
from tests.pages.test_garage import stint_form


def names(rider, now):
    return {str(seer.organisation) for seer in seers_of(rider, on=now.date())}


def test_the_page_names_the_vendor_that_serves_and_the_organiser_of_the_entry(as_, rider, entry):
    page = as_(rider.person).get("/garage/sharing/").content.decode()

    assert "Tarn Tire Service" in page
    assert "you are registered there" in page
    assert "Longfield Track Days" in page
    assert "it ends 30 days after the last day" in page
    assert "Breckside" not in page.split("Let an organisation see")[0]


def test_who_is_named_is_who_can_see(rider, entry, fitter, crew, stranger, now):
    on = now.date()

    sees = {
        "Tarn Tire Service": riders_served(fitter).filter(pk=rider.pk).exists(),
        "Longfield Track Days": entrants_for(crew, on=on).filter(pk=rider.pk).exists(),
        "Breckside Wheel Works": riders_served(stranger).filter(pk=rider.pk).exists(),
    }

    assert {name for name, does in sees.items() if does} == names(rider, now)


def test_an_organiser_that_registered_a_walk_in_is_named_with_what_it_may_do(
    other_rider, crew, longfield, now
):
    other_rider.registered_with = longfield
    other_rider.save()

    (seer,) = seers_of(other_rider, on=now.date())

    assert str(seer.organisation) == "Longfield Track Days"
    assert "it may enter you in its events" in seer.what
    assert not riders_served(crew).exists()
    assert not entrants_for(crew, on=now.date()).exists()


@pytest.mark.parametrize(("days_later", "is_named"), [(30, True), (31, False)])
def test_an_entry_opens_tires_until_thirty_days_after(rider, entry, crew, now, days_later, is_named):
    later = entry.day.date + timedelta(days=days_later)

    named = {str(seer.organisation) for seer in seers_of(rider, on=later)}

    assert ("Longfield Track Days" in named) is is_named
    assert entrants_for(crew, on=later).filter(pk=rider.pk).exists() is is_named


def test_a_rider_lets_testers_in_and_takes_it_back(as_, rider, entry, day, fitted, longfield, tester, local):
    client = as_(rider.person)
    client.post(reverse("stint", args=[fitted["front"].wheel_pair_id]), stint_form(day, local))
    assert not stints_for(tester).exists()

    client.post("/garage/sharing/", {"organisation": longfield.pk}, follow=True)
    assert stints_for(tester).exists()

    sharing = Sharing.objects.get()
    page = client.post(reverse("end-sharing", args=[sharing.pk]), follow=True).content.decode()
    assert "no longer sees" in page
    assert not stints_for(tester).exists()


def test_allowing_nobody_or_somebody_twice_is_refused_with_what_would_be_right(as_, rider, longfield):
    client = as_(rider.person)
    client.post("/garage/sharing/", {"organisation": longfield.pk})

    nobody = client.post("/garage/sharing/", {})
    twice = client.post("/garage/sharing/", {"organisation": longfield.pk})

    assert (nobody.status_code, twice.status_code) == (422, 422)
    assert "Organisation is missing: choose one." in nobody.content.decode()
    assert "sees them already" in twice.content.decode()
    assert Sharing.objects.count() == 1


def test_another_riders_permission_cannot_be_taken_back(as_, rider, longfield, fitter):
    as_(rider.person).post("/garage/sharing/", {"organisation": longfield.pk})
    sharing = Sharing.objects.get()

    answer = as_(fitter).post(reverse("end-sharing", args=[sharing.pk]))

    assert answer.status_code in {403, 404}
    sharing.refresh_from_db()
    assert sharing.withdrawn_at is None


def test_a_person_who_does_not_ride_has_no_such_page(as_, fitter):
    assert as_(fitter).get("/garage/sharing/").status_code == 403


def test_the_page_asks_a_fixed_number_of_questions(
    as_, rider, entry, longfield, django_assert_max_num_queries
):
    client = as_(rider.person)
    client.post("/garage/sharing/", {"organisation": longfield.pk})
    Membership.objects.create(person=rider.person, organisation=longfield, role=Role.TESTER)

    with django_assert_max_num_queries(14):
        client.get("/garage/sharing/")
