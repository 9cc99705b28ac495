"""The board all tablets of a trailer share: by promised time, moved on by a tap, and cheap to ask again."""

import uuid
from datetime import timedelta

import pytest
from django.urls import reverse

from fleet.accounts.policy import SERVICE
from fleet.garage.actions import add_bike, add_wheel_pair, register_rider
from fleet.inventory.actions import advance_ticket, take_wheels_in
from fleet.inventory.models import JobTicket
from fleet.pages.units import short_day_and_clock


@pytest.fixture
def hand_in(tarn, now):
    """Take the wheels of another walk-in in, promised for so many minutes from now."""

    def do(name, minutes=None, **given):
        code = name.lower()
        rider = register_rider(by=SERVICE, code=code, name=f"{name} Walker", registered_with=tarn)
        bike = add_bike(by=SERVICE, rider=rider, code=code, description="600 sport")
        pair = add_wheel_pair(by=SERVICE, bike=bike, code=code, name="dry")
        promised = None if minutes is None else now + timedelta(minutes=minutes)
        opened_at = now - timedelta(hours=3)
        return take_wheels_in(
            by=SERVICE,
            at=opened_at,
            vendor=tarn,
            wheel_pair=pair,
            opened_on=opened_at.date(),
            promised_at=promised,
            **given,
        )

    return do


def order_of(page, *words):
    return sorted(words, key=page.index)


def test_the_board_goes_by_promised_time_with_what_is_overdue_first_and_said_so(
    as_, fitter, hand_in, rear_spec
):
    hand_in("Ada")
    hand_in("Bo", 40)
    hand_in("Cy", -20, wishes=[{"axle": "rear", "spec": rear_spec, "destination": "scrapped"}])
    advance_ticket(by=fitter, ticket=hand_in("Di", -60), state="ready")

    page = as_(fitter).get(reverse("trailer")).content.decode()

    names = ["Cy Walker", "Bo Walker", "Ada Walker", "Ready to collect", "Di Walker"]
    assert order_of(page, *sorted(names)) == names
    assert page.count("Overdue: was for") == 1
    assert "Rear:" in page
    assert "the old one: scrapped" in page
    assert page.count("Put on the machine<span") == 3


def test_a_promise_for_another_day_names_the_day(as_, fitter, hand_in):
    ticket = hand_in("Ada", 26 * 60)

    page = as_(fitter).get(reverse("trailer")).content.decode()

    assert f"for <strong>{short_day_and_clock(ticket.promised_at, 'UTC')}</strong>" in page


def test_a_tap_moves_a_ticket_on_and_comes_back_to_the_board(as_, fitter, hand_in):
    ticket = hand_in("Ada")

    answer = as_(fitter).post(
        reverse("move-ticket", args=[ticket.pk]),
        {"seen": "waiting", "state": "on_machine", "back": "board"},
        follow=True,
    )

    page = answer.content.decode()
    assert answer.redirect_chain == [(reverse("trailer"), 302)]
    assert "Ticket 1, Ada Walker: on the machine." in page
    assert "Wheels are ready" in page


def test_a_tap_on_what_another_tablet_did_before_says_so(as_, fitter, hand_in):
    client, address = as_(fitter), reverse("move-ticket", args=[hand_in("Ada").pk])
    client.post(address, {"seen": "waiting", "state": "on_machine"})

    same = client.post(address, {"seen": "waiting", "state": "on_machine"}, follow=True)
    other = client.post(address, {"seen": "waiting", "state": "collected"})

    assert "Ticket 1 was moved before: on the machine." in same.content.decode()
    assert other.status_code == 422
    assert "Somebody else moved this ticket" in other.content.decode()
    assert JobTicket.objects.get().state == "on_machine"


def test_a_move_sent_again_under_its_key_does_not_bring_a_ticket_back(as_, fitter, hand_in):
    ticket = hand_in("Ada")
    client, address = as_(fitter), reverse("move-ticket", args=[ticket.pk])
    move = {"seen": "waiting", "state": "on_machine", "key": str(uuid.uuid4())}
    client.post(address, move)
    advance_ticket(by=fitter, ticket=JobTicket.objects.get(), state="waiting")

    answer = client.post(address, move)

    assert answer.status_code == 302
    assert JobTicket.objects.get().state == "waiting"


@pytest.mark.parametrize("route", ["ticket-rows", "ticket-numbers"])
def test_the_board_is_sent_again_only_when_it_changed(as_, fitter, hand_in, route):
    ticket = hand_in("Ada", 30)
    client = as_(fitter)
    first = client.get(reverse(route))

    again = client.get(reverse(route), headers={"If-None-Match": first["ETag"]})
    advance_ticket(by=fitter, ticket=ticket, state="ready")
    changed = client.get(reverse(route), headers={"If-None-Match": first["ETag"]})

    assert (first.status_code, again.status_code, changed.status_code) == (200, 304, 200)
    assert (again.content, again["ETag"]) == (b"", first["ETag"])
    assert changed["ETag"] != first["ETag"]
    assert again["X-Clock"] == first["X-Clock"] or len(again["X-Clock"]) == 5
    assert b"csrf" not in first.content


def test_the_page_knows_the_mark_of_what_it_shows(as_, fitter, hand_in):
    hand_in("Ada", 30)
    client = as_(fitter)

    for page, part in (("trailer", "ticket-rows"), ("ticket-board", "ticket-numbers")):
        mark = client.get(reverse(part))["ETag"].replace('"', "&quot;")
        assert f'data-mark="{mark}"' in client.get(reverse(page)).content.decode()


def test_the_side_screen_shows_numbers_and_no_names(as_, fitter, hand_in):
    hand_in("Ada")
    advance_ticket(by=fitter, ticket=hand_in("Bo"), state="ready")

    page = as_(fitter).get(reverse("ticket-board")).content.decode()

    assert "<strong>2</strong>" in page
    assert "<span>1</span>" in page
    assert "Walker" not in page


def test_another_vendors_board_shows_nothing_of_it(as_, stranger, hand_in):
    hand_in("Ada")
    client = as_(stranger)

    for route in ("trailer", "ticket-rows", "ticket-board"):
        page = client.get(reverse(route)).content.decode()
        assert "Ada" not in page
        assert "<span>1</span>" not in page


def test_what_was_collected_today_stays_in_reach(as_, fitter, hand_in):
    ticket = hand_in("Ada")
    for state in ("on_machine", "ready", "collected"):
        advance_ticket(by=fitter, ticket=JobTicket.objects.get(pk=ticket.pk), state=state)
    JobTicket.objects.update(opened_on=as_today(ticket))

    page = as_(fitter).get(reverse("trailer")).content.decode()

    assert "Collected today: 1" in page
    assert reverse("ticket", args=[ticket.pk]) in page


def as_today(ticket):
    return (ticket.opened_at + timedelta(hours=3)).date()


@pytest.mark.parametrize("route", ["ticket-rows", "ticket-numbers"])
def test_any_number_of_tickets_costs_the_same_queries(as_, fitter, hand_in, route, django_assert_num_queries):
    client = as_(fitter)
    hand_in("Ada")
    with django_assert_num_queries(8) as counted:
        client.get(reverse(route))
    for name in ("Bo", "Cy", "Di", "Ed"):
        hand_in(name, 30)

    with django_assert_num_queries(len(counted)):
        client.get(reverse(route))
