"""Wheels found by number, name or code, taken in with what is wanted and by when, and mended on their ticket."""

import uuid
from datetime import timedelta

import pytest
from django.urls import reverse

from fleet.accounts.policy import SERVICE
from fleet.events.actions import add_slot
from fleet.garage.actions import add_wheel_pair
from fleet.inventory.actions import add_own_tire, advance_ticket, take_wheels_in
from fleet.inventory.models import JobTicket


@pytest.fixture
def form():
    def fill(**changes):
        return {"wheels": "rear", "wanted": "none", "key": str(uuid.uuid4())} | changes

    return fill


@pytest.fixture
def at_wheels(as_, fitter, wheel_pair):
    """The take-in form of Robin's wheels in the fitter's browser."""
    client, address = as_(fitter), reverse("take-in", args=[wheel_pair.pk])

    class Form:
        def read(self):
            return client.get(address).content.decode()

        def send(self, body, **options):
            return client.post(address, body, **options)

    return Form()


@pytest.mark.parametrize("typed", ["vale", "R-001", "27"])
def test_wheels_are_found_by_name_code_and_the_number_of_today(as_, fitter, entry, wheel_pair, typed):
    page = as_(fitter).get(reverse("find"), {"who": typed}).content.decode()

    assert "Robin Vale" in page
    assert reverse("take-in", args=[wheel_pair.pk]) in page
    assert ("Number 27 today" in page) == (typed == "27")


@pytest.mark.parametrize("typed", ["2", "270", "28"])
def test_another_number_is_not_found(as_, fitter, entry, wheel_pair, typed):
    page = as_(fitter).get(reverse("find"), {"who": typed}).content.decode()

    assert "Robin Vale" not in page
    assert f"No rider you serve has “{typed}”" in page


def test_the_number_of_a_rider_one_does_not_serve_finds_nobody(as_, stranger, entry, wheel_pair):
    page = as_(stranger).get(reverse("find"), {"who": "27"}).content.decode()

    assert "Robin" not in page


def test_wheels_that_are_here_lead_to_their_ticket(as_, fitter, tarn, wheel_pair, now):
    ticket = take_wheels_in(by=SERVICE, at=now, vendor=tarn, wheel_pair=wheel_pair, opened_on=now.date())

    page = as_(fitter).get(reverse("find"), {"who": "vale"}).content.decode()

    assert "Here as number 1" in page
    assert reverse("ticket", args=[ticket.pk]) in page
    assert reverse("take-in", args=[wheel_pair.pk]) not in page


def test_a_ticket_is_opened_with_what_goes_on_and_where_the_old_tire_goes(
    at_wheels, form, rear_lot, fitted, rear_spec
):
    answer = at_wheels.send(
        form(rear_on=f"spec:{rear_spec.pk}", rear_off="scrapped", wish="loses air", front_off="kept"),
        follow=True,
    )

    page = answer.content.decode()
    ticket = JobTicket.objects.get()
    wish = ticket.wish_for("rear")
    assert "Ticket 1 is open: tell Robin Vale the number." in page
    assert '<span class="ticket-number">1</span>' in page
    assert (ticket.axles, wish.spec, wish.destination) == (["rear"], rear_spec, "scrapped")
    assert ticket.wish == "loses air"
    assert "Mirrin Lowmoor TD" in page
    assert "the old one: scrapped" in page


def test_the_same_form_sent_twice_leads_to_the_same_ticket(at_wheels, form, fitter):
    body = form()
    first = at_wheels.send(body)
    advance_ticket(by=fitter, ticket=JobTicket.objects.get(), state="collected")

    again = at_wheels.send(body, follow=True)

    assert again.redirect_chain == [(first["Location"], 302)]
    assert "it is stored once" in again.content.decode()
    assert str(JobTicket.objects.get().pk) == body["key"]


def test_wheels_that_are_here_are_not_taken_in_by_another_form(at_wheels, form):
    at_wheels.send(form())

    answer = at_wheels.send(form(wheels="both", wish="new front too"))

    page = answer.content.decode()
    assert answer.status_code == 422
    assert "These wheels are here already, as number 1" in page
    assert 'value="new front too"' in page
    assert JobTicket.objects.get().axles == ["rear"]
    assert "These wheels are here already" in at_wheels.read()


def test_riders_own_tires_and_what_the_vendor_has_are_offered_by_wheel(
    at_wheels, rider, rear_spec, front_spec, rear_lot, now
):
    own = add_own_tire(by=SERVICE, at=now, rider=rider, spec=front_spec)

    page = at_wheels.read()

    front, rear = page.split('class="wheel-wish is-rear"')
    assert f"tire:{own.pk}" in front
    assert f"tire:{own.pk}" not in rear
    assert f"spec:{rear_spec.pk}" in rear
    assert f"spec:{rear_spec.pk}" not in front
    assert "4 on the trailer" in rear


def test_the_same_again_is_filled_in_where_the_vendor_has_it(at_wheels, fitted, rear_spec):
    page = at_wheels.read()

    assert f'<option value="spec:{rear_spec.pk}" selected>' in page


def test_it_is_wanted_before_the_next_slot_unless_said_otherwise(at_wheels, form, day, group, entry, now):
    soon = add_slot(
        by=SERVICE,
        day=day,
        group=group,
        starts_at=now + timedelta(minutes=40),
        ends_at=now + timedelta(minutes=60),
    )
    page = at_wheels.read()

    at_wheels.send(form(wanted=f"slot:{soon.pk}"))

    assert f'value="slot:{soon.pk}"' in page
    assert JobTicket.objects.get().promised_at == soon.starts_at


def test_a_typed_time_counts_before_the_choice(at_wheels, form, entry, local, now):
    wanted = local + timedelta(hours=1, minutes=20)

    at_wheels.send(form(wanted="in:30", promised_at=f"{wanted:%Y-%m-%dT%H:%M}"))

    assert JobTicket.objects.get().promised_at == now + timedelta(hours=1, minutes=20)


def test_what_was_entered_without_network_counts_from_when_it_was_entered(at_wheels, form, fitter, now):
    came_in = now - timedelta(minutes=50)

    at_wheels.send(
        form(wanted="in:30"),
        headers={"Outbox": "waiting", "Outbox-Made": came_in.isoformat(), "Outbox-Person": str(fitter.pk)},
    )

    ticket = JobTicket.objects.get()
    assert (ticket.opened_at, ticket.promised_at) == (came_in, came_in + timedelta(minutes=30))


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"wheels": ""}, "Which wheels is missing: choose one."),
        ({"wanted": "in:5"}, "This time is not offered any more"),
        ({"wanted": f"slot:{uuid.uuid4()}"}, "This time is not offered any more"),
        ({"wanted": "slot:x"}, "This time is not offered any more"),
        ({"rear_on": f"spec:{uuid.uuid4()}"}, "This rear tire is not there any more"),
        ({"rear_on": "tire:nonsense"}, "This rear tire is not there any more"),
        ({"promised_at": "2019-01-01T10:00"}, "promised for a time after they came in"),
        ({"promised_at": "ten"}, "is no date and time"),
        ({"key": ""}, "This form lost its key"),
        ({"wish": "x" * 201}, "at most 200 characters"),
    ],
)
def test_what_cannot_be_is_said_and_what_was_typed_is_kept(at_wheels, form, changes, sentence):
    answer = at_wheels.send(form(wish="loses air") | changes)

    page = answer.content.decode()
    assert answer.status_code == 422
    assert sentence in page
    assert ("loses air" in page) == ("wish" not in changes)
    assert not JobTicket.objects.exists()


def test_a_front_spec_is_not_wished_for_the_rear(at_wheels, form, front_spec, front_lot):
    answer = at_wheels.send(form(rear_on=f"spec:{front_spec.pk}"))

    assert answer.status_code == 422
    assert not JobTicket.objects.exists()


def test_what_is_wanted_is_changed_on_the_ticket(as_, fitter, at_wheels, form, rear_spec, rear_lot, now):
    at_wheels.send(form(wheels="both", wanted="in:60"))
    ticket = JobTicket.objects.get()
    address = reverse("wishes", args=[ticket.pk])
    client = as_(fitter)
    page = client.get(address).content.decode()

    answer = client.post(
        address,
        form(rear_on=f"spec:{rear_spec.pk}", rear_off="kept", wanted="as-it-is", wish="no hurry"),
        follow=True,
    )

    stands = JobTicket.objects.get()
    assert "As it is: by" in page
    assert "Ticket 1 says so now." in answer.content.decode()
    assert (stands.axles, stands.wish_for("rear").spec, stands.wish) == (["rear"], rear_spec, "no hurry")
    assert stands.promised_at == ticket.promised_at


def test_a_strangers_wheels_and_tickets_take_no_form(as_, stranger, tarn, wheel_pair, form, now):
    ticket = take_wheels_in(by=SERVICE, at=now, vendor=tarn, wheel_pair=wheel_pair, opened_on=now.date())
    client = as_(stranger)

    for address in (reverse("take-in", args=[wheel_pair.pk]), reverse("wishes", args=[ticket.pk])):
        assert client.get(address).status_code == 404
        assert client.post(address, form()).status_code == 404
    assert JobTicket.objects.get().axles == []


def test_the_rider_sees_how_far_the_wheels_are(as_, rider_person, at_wheels, form, fitter, bike):
    assert "Wheels at" not in as_(rider_person).get(reverse("garage")).content.decode()
    at_wheels.send(form(wanted="in:60"))

    waiting = as_(rider_person).get(reverse("garage")).content.decode()
    advance_ticket(by=fitter, ticket=JobTicket.objects.get(), state="ready")
    ready = as_(rider_person).get(reverse("garage")).content.decode()
    advance_ticket(by=fitter, ticket=JobTicket.objects.get(), state="collected")

    assert "Wheels at Tarn Tire Service: number 1" in waiting
    assert "promised for" in waiting
    assert "you can collect them" in ready
    assert "pump the brake before moving off" in ready
    assert "Wheels at" not in as_(rider_person).get(reverse("garage")).content.decode()


def test_no_other_rider_sees_them(as_, other_rider, at_wheels, form):
    at_wheels.send(form())

    assert "Wheels at" not in as_(other_rider.person).get(reverse("garage")).content.decode()


def test_wheels_put_aside_can_be_taken_in_too(as_, fitter, bike, form):
    wet = add_wheel_pair(by=SERVICE, bike=bike, code="wet", name="wet", is_in_use=False)

    as_(fitter).post(reverse("take-in", args=[wet.pk]), form())

    assert JobTicket.objects.get().wheel_pair == wet
