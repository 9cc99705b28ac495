"""The pages of a tire that changes hands: the link made, looked at and answered, and what each rider sees after."""

import re
from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse

from fleet.inventory.actions import accept_tire, add_own_tire, offer_tire, remove_tire
from fleet.inventory.models import Tire
from fleet.life.assessments import assess
from fleet.running.actions import record_tread
from tests.conftest import somebody


@pytest.fixture
def used(stint, fitted, rider_person, now):
    """Robin's front, ridden, read and taken off."""
    tire = fitted["front"].tire
    read_at = now - timedelta(minutes=15)
    record_tread(by=rider_person, at=now, tire=tire, zone="C", taken_at=read_at, depth_mm=4.1)
    remove_tire(
        by=rider_person, at=now, fitting=fitted["front"], removed_at=now - timedelta(minutes=10),
        reason="sold", destination="handed_back",
    )  # fmt: skip
    assess(None, at=now)
    return tire


def words(answer):
    return re.sub(r"\s+", " ", answer.content.decode())


def link_in(page):
    return re.search(r'value="https?://[^/"]+(/handover/[^"]+)"', page).group(1)


def test_from_one_garage_to_the_other(as_, rider_person, other_rider, used):
    giver, taker = as_(rider_person), as_(other_rider.person)
    assert reverse("hand-over", args=[used.pk]) in words(giver.get("/garage/tires/"))
    link = link_in(words(giver.post(reverse("hand-over", args=[used.pk]))))
    assert "Offered by a link" in words(giver.get("/garage/tires/"))

    page = words(taker.get(link))
    assert "Least tread" in page
    assert used.label_code in page
    after = words(taker.post(link, {"answer": "yes"}, follow=True))

    assert "The tire is yours" in after
    assert used.label_code in after
    assert used.label_code in words(giver.get("/garage/tires/")).split("Handed over")[1]


def test_the_taker_never_reads_who_had_it_and_on_what_bike(as_, rider_person, other_rider, bike, used, now):
    _offer, token = offer_tire(by=rider_person, at=now, tire=used)
    taker = as_(other_rider.person)
    pages = [words(taker.get(f"/handover/{token}/"))]
    accept_tire(by=other_rider.person, at=now, token=token)

    pages += [words(taker.get(reverse("tire", args=[used.pk]))), words(taker.get("/history/"))]

    for page in pages:
        assert rider_person.name not in page
        assert bike.description not in page
        assert "w-001" not in page
    assert "on another rider's wheels" in pages[1]
    assert "1 was counted before the tire changed hands" in pages[1]
    assert "4.1" in pages[1]
    assert "33 km" in pages[1]


def test_the_tread_stands_over_what_the_tire_had_run_also_for_the_taker(
    as_, rider_person, other_rider, used, now
):
    def row(person):
        page = words(as_(person).get(reverse("tire", args=[used.pk])))
        return re.search(r"Tread readings.*?<tbody>(.*?)</tbody>", page).group(1)

    before = row(rider_person)
    _offer, token = offer_tire(by=rider_person, at=now, tire=used)
    accept_tire(by=other_rider.person, at=now, token=token)

    assert row(other_rider.person) == before
    assert "33 km" in before  # 8 laps of 4.12 km


def test_the_giver_reads_their_own_stints_and_no_life_of_it(as_, rider_person, other_rider, used, now):
    _offer, token = offer_tire(by=rider_person, at=now, tire=used)
    accept_tire(by=other_rider.person, at=now, token=token)
    used.refresh_from_db()
    record_tread(by=other_rider.person, at=now, tire=used, zone="C", taken_at=now, depth_mm=3.3)

    page = words(as_(rider_person).get(reverse("tire", args=[used.pk])))

    assert "This is what you logged on it" in page
    assert "Marram Point" in page
    assert "4.1" in page
    assert "3.3" not in page
    assert "days left on track" not in page
    assert other_rider.name not in page


def test_who_says_no_leaves_the_tire_where_it_is(as_, rider_person, other_rider, rider, used, now):
    _offer, token = offer_tire(by=rider_person, at=now, tire=used)

    answer = as_(other_rider.person).post(f"/handover/{token}/", {"answer": "no"}, follow=True)

    assert "You said no" in words(answer)
    assert Tire.objects.get(pk=used.pk).owner == rider
    assert as_(other_rider.person).get(f"/handover/{token}/").status_code == 404


def test_who_has_no_garage_yet_gets_one_with_the_tire(as_, rider_person, used, now):
    _offer, token = offer_tire(by=rider_person, at=now, tire=used)
    newcomer = somebody("Ines Marl")

    as_(newcomer).post(f"/handover/{token}/", {"answer": "yes"})

    assert Tire.objects.get(pk=used.pk).owner.person == newcomer


def test_nobody_signed_in_learns_anything_of_the_tire(rider_person, used, now):
    _offer, token = offer_tire(by=rider_person, at=now, tire=used)

    page = words(Client().get(f"/handover/{token}/"))

    assert "Sign in" in page
    assert used.label_code not in page
    assert rider_person.name not in page


def test_a_link_taken_back_is_over(as_, rider_person, other_rider, used, now):
    offer, token = offer_tire(by=rider_person, at=now, tire=used)

    page = words(as_(rider_person).post(reverse("withdraw-handover", args=[offer.pk]), follow=True))

    assert "taken back" in page
    assert as_(other_rider.person).get(f"/handover/{token}/").status_code == 404


def test_a_tire_on_a_wheel_is_refused_with_what_to_do(as_, rider_person, fitted):
    answer = as_(rider_person).post(reverse("hand-over", args=[fitted["rear"].tire.pk]))

    assert answer.status_code == 422
    assert "take it off first" in words(answer)


def test_the_list_takes_the_same_number_of_queries_for_one_tire_and_for_ten(
    as_, rider, rider_person, front_spec, now, django_assert_num_queries
):
    client = as_(rider_person)
    for number in range(11):
        tire = add_own_tire(by=rider_person, at=now, rider=rider, spec=front_spec)
        offer_tire(by=rider_person, at=now, tire=tire)
        if number in {0, 10}:
            client.get("/garage/tires/")
            with django_assert_num_queries(14):
                assert client.get("/garage/tires/").status_code == 200
