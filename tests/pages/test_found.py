"""Where the code on a label leads: those who may see the tire to it, everybody else to the vendor and nothing more."""

from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse

from fleet.accounts.policy import SERVICE
from fleet.events.actions import add_day, enter
from fleet.garage.actions import add_wheel_pair
from fleet.inventory.actions import add_own_tire, remove_tire, take_wheels_in
from fleet.inventory.labels import mark_of
from fleet.inventory.models import Fitting, JobTicket


@pytest.fixture
def tire(assessed):
    return assessed["rear"].tire


@pytest.fixture
def address(tire):
    return reverse("found", args=[mark_of(tire)])


def test_a_stranger_sees_whom_to_tell_and_nothing_else(address, tire, rider):
    answer = Client().get(address)

    page = answer.content.decode()
    assert answer.status_code == 200
    assert "Found this wheel?" in page
    assert "Tarn Tire Service" in page
    assert "trailer 1" in page
    for secret in (
        tire.label_code, str(tire.pk), str(tire.owner_id), tire.spec.size, tire.spec.line.name, rider.name, rider.code,
        "0826", "fresh", "Fresh",
    ):  # fmt: skip
        assert secret not in page


@pytest.mark.parametrize("who", ["stranger", "tester", "rider_of_another", "crew", "inspector"])
def test_signed_in_without_a_right_it_is_the_very_same_page(request, as_, address, other_rider, who):
    person = other_rider.person if who == "rider_of_another" else request.getfixturevalue(who)

    assert as_(person).get(address).content == Client().get(address).content


def test_the_owner_is_led_to_the_tire(as_, rider, address, tire):
    assert as_(rider.person).get(address).url == reverse("tire", args=[tire.pk])


@pytest.mark.parametrize("who", ["fitter", "stock_manager"])
def test_the_trailer_is_led_to_the_open_ticket_or_the_tire(
    request, as_, address, tire, tarn, wheel_pair, now, who
):
    client = as_(request.getfixturevalue(who))
    assert client.get(address).url == reverse("tire", args=[tire.pk])

    ticket = take_wheels_in(by=SERVICE, at=now, vendor=tarn, wheel_pair=wheel_pair, opened_on=now.date())

    assert client.get(address).url == reverse("ticket", args=[ticket.pk])
    JobTicket.objects.update(state=JobTicket.State.COLLECTED)
    assert client.get(address).url == reverse("tire", args=[tire.pk])


def test_another_pairs_ticket_is_not_the_tires(as_, fitter, address, tire, tarn, bike, now):
    wet = add_wheel_pair(by=SERVICE, bike=bike, code="w-wet", name="wet", is_in_use=False)
    take_wheels_in(by=SERVICE, at=now, vendor=tarn, wheel_pair=wet, opened_on=now.date())

    assert as_(fitter).get(address).url == reverse("tire", args=[tire.pk])


@pytest.mark.parametrize("who", ["crew", "director", "inspector"])
def test_the_desk_is_led_to_the_gate(request, as_, address, entry, who):
    answer = as_(request.getfixturevalue(who)).get(address)

    assert answer.url == f"{reverse('gate', args=[entry.day_id])}?number=27"


def test_the_gate_is_the_one_of_the_next_day(as_, inspector, address, entry, event, layout, group, bike, day):
    later = add_day(by=SERVICE, event=event, date=day.date + timedelta(days=3), layout=layout)
    enter(by=SERVICE, day=later, bike=bike, group=group, number="31")
    earlier = add_day(by=SERVICE, event=event, date=day.date - timedelta(days=3), layout=layout)
    enter(by=SERVICE, day=earlier, bike=bike, group=group, number="30")

    assert as_(inspector).get(address).url.endswith("?number=27")


def test_long_after_the_event_the_desk_is_a_stranger(as_, inspector, address, entry, day):
    day.date -= timedelta(days=32)
    day.save()

    assert as_(inspector).get(address).content == Client().get(address).content


@pytest.mark.parametrize("mark", ["A" * 16, "abc", "-", "x" * 40, "AAAA-AAAA-AAAA-AAAA"])
@pytest.mark.parametrize("who", [None, "fitter"])
def test_an_unknown_code_tells_nothing_in_the_same_look(request, as_, db, mark, who):
    client = as_(request.getfixturevalue(who)) if who else Client()

    answer = client.get(f"/W/{mark}")

    assert answer.status_code == 404
    assert "Found this wheel?" in answer.content.decode()
    assert "leads to nobody" in answer.content.decode()


def test_a_tire_no_vendor_fitted_is_answered_like_an_unknown_one(rider, rear_spec, now):
    tire = add_own_tire(by=SERVICE, at=now, rider=rider, spec=rear_spec)
    known, unknown = mark_of(tire), "A" * 16

    answers = [Client().get(f"/W/{mark}") for mark in (known, unknown)]

    assert [answer.status_code for answer in answers] == [404, 404]
    pages = [answer.content.decode().replace(known, "").replace(unknown, "") for answer in answers]
    assert pages[0] == pages[1]


def test_the_vendor_that_fitted_it_last_is_named_after_it_came_off(assessed, address, tire, now):
    remove_tire(
        by=SERVICE, at=now, fitting=assessed["rear"], removed_at=now, reason="swap", destination="handed_back"
    )

    assert "Tarn Tire Service" in Client().get(address).content.decode()


def test_a_vendor_without_a_contact_is_named_alone(address, tarn):
    tarn.contact = ""
    tarn.save()

    page = Client().get(address).content.decode()

    assert "Please tell <strong>Tarn Tire Service</strong>." in page


def test_nothing_of_it_is_kept_by_caches_or_listed_by_robots(address):
    answer = Client().get(address)

    assert "no-store" in answer["Cache-Control"]
    assert "private" in answer["Cache-Control"]
    assert answer["X-Robots-Tag"] == "noindex"


def test_signing_in_leads_on_to_the_tire(address, rider, tire):
    client = Client()
    page = client.get(address).content.decode()
    assert f"/sign-in/?next={address}" in page

    answer = client.post(
        "/sign-in/",
        {"login": rider.person.email, "password": "open the trailer", "next": address},
        follow=True,
    )

    assert answer.redirect_chain[-1][0] == reverse("tire", args=[tire.pk])


def test_a_typed_address_is_found_in_any_case(address):
    assert Client().get(address.lower()).status_code == 200


def test_only_reading_is_answered(address):
    assert Client().post(address).status_code == 405


def test_a_stranger_costs_the_database_two_questions(address, django_assert_num_queries):
    with django_assert_num_queries(2):
        Client().get(address)
    with django_assert_num_queries(1):
        Client().get("/W/" + "A" * 16)


def test_a_voided_fitting_names_nobody(assessed, address, now):
    Fitting.objects.filter(pk=assessed["rear"].pk).update(voided_at=now, void_reason="another wheel")

    assert Client().get(address).status_code == 404
