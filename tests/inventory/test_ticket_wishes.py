"""What is wished for each wheel of a ticket, mended later, and sent twice without a second effect."""

import uuid
from datetime import timedelta

import pytest

from fleet.accounts.models import Change
from fleet.accounts.policy import SERVICE
from fleet.errors import Invalid, KeyReused, NotFound
from fleet.garage.actions import add_wheel_pair
from fleet.inventory.actions import (
    add_own_tire,
    advance_ticket,
    correct_ticket,
    take_wheels_in,
    wish_for_wheel,
)
from fleet.inventory.errors import NotTheOwner, TicketMoved, WrongAxle
from fleet.inventory.models import JobTicket, TicketWish
from fleet.inventory.queries import tickets_for


@pytest.fixture
def take_in(tarn, wheel_pair, fitter, now):
    def do(**changes):
        given = {
            "by": fitter,
            "at": now,
            "vendor": tarn,
            "wheel_pair": wheel_pair,
            "opened_on": now.date(),
        }
        return take_wheels_in(**(given | changes))

    return do


def test_a_ticket_says_for_each_wheel_what_goes_on_and_where_the_old_tire_goes(
    take_in, fitter, rear_spec, own_tire
):
    take_in(
        wishes=[
            {"axle": "rear", "spec": rear_spec, "destination": "scrapped"},
            {"axle": "front", "own_tire": own_tire},
        ]
    )

    ticket = tickets_for(fitter).get()
    front, rear = ticket.wish_for("front"), ticket.wish_for("rear")
    assert ticket.axles == ["front", "rear"]
    assert (front.own_tire, front.spec, front.destination) == (own_tire, None, "")
    assert (rear.own_tire, rear.spec, rear.destination) == (None, rear_spec, "scrapped")


def test_a_ticket_for_one_wheel_leaves_the_other_alone(take_in, fitter):
    take_in(wishes=[{"axle": "rear"}])

    ticket = tickets_for(fitter).get()

    assert ticket.axles == ["rear"]
    assert ticket.wish_for("front") is None


def test_what_cannot_be_wished_is_refused_and_nothing_is_stored(
    take_in, front_spec, rear_spec, other_rider, own_tire, now
):
    foreign = add_own_tire(by=SERVICE, at=now, rider=other_rider, spec=rear_spec)
    for wishes, refusal, field in (
        ([{"axle": "rear", "spec": front_spec}], WrongAxle, "spec"),
        ([{"axle": "rear", "own_tire": own_tire}], WrongAxle, "own_tire"),
        ([{"axle": "rear", "own_tire": foreign}], NotTheOwner, "own_tire"),
        ([{"axle": "front", "own_tire": own_tire, "spec": front_spec}], Invalid, ""),
        ([{"axle": "rear"}, {"axle": "rear"}], Invalid, "wishes"),
        ([{"axle": "middle"}], Invalid, "axle"),
        ([{"axle": "rear", "destination": "lost"}], Invalid, "destination"),
    ):
        with pytest.raises(refusal) as refused:
            take_in(wishes=wishes)
        assert refused.value.field == field, wishes

    assert not JobTicket.objects.exists()


def test_wheels_are_not_promised_before_they_came_in(take_in, fitter, now):
    with pytest.raises(Invalid) as refused:
        take_in(promised_at=now - timedelta(minutes=1))
    assert refused.value.field == "promised_at"

    ticket = take_in(promised_at=now + timedelta(minutes=30))
    with pytest.raises(Invalid):
        correct_ticket(by=fitter, at=now, ticket=ticket, promised_at=now - timedelta(minutes=1))
    assert JobTicket.objects.get().promised_at == now + timedelta(minutes=30)


def test_wheels_that_came_in_before_they_were_written_down_keep_that_time(take_in, now):
    ticket = take_in(opened_at=now - timedelta(hours=2))

    assert ticket.opened_at == now - timedelta(hours=2)
    with pytest.raises(Invalid) as refused:
        take_in(opened_at=now + timedelta(minutes=6))
    assert refused.value.field == "opened_at"


def test_the_same_wheels_sent_twice_under_a_key_open_one_ticket(take_in, fitter, rear_spec):
    key = uuid.uuid4()

    first = take_in(key=key, wishes=[{"axle": "rear", "spec": rear_spec}])
    advance_ticket(by=fitter, ticket=first, state="collected")
    again = take_in(key=key, wishes=[{"axle": "rear", "spec": rear_spec}])

    assert (first.pk, again.pk, again.state) == (key, key, "collected")
    assert JobTicket.objects.count() == TicketWish.objects.count() == 1


def test_a_key_used_for_other_wheels_is_refused(take_in, bike, breckside, wheel_pair):
    key = uuid.uuid4()
    take_in(by=SERVICE, key=key, vendor=breckside)
    wet = add_wheel_pair(by=SERVICE, bike=bike, code="wet", name="wet", is_in_use=False)

    for other in ({"wheel_pair": wet}, {}):
        with pytest.raises(KeyReused) as refused:
            take_in(key=key, **other)
        assert "differ" not in refused.value.sentence
    assert JobTicket.objects.count() == 1


def test_a_move_sent_again_under_its_key_changes_nothing_wherever_the_ticket_went(take_in, fitter):
    ticket, key = take_in(), uuid.uuid4()
    advance_ticket(by=fitter, ticket=ticket, state="on_machine", key=key)
    advance_ticket(by=fitter, ticket=ticket, state="ready")

    again = JobTicket(pk=ticket.pk, vendor=ticket.vendor, wheel_pair=ticket.wheel_pair, state="waiting")
    answer = advance_ticket(by=fitter, ticket=again, state="on_machine", key=key)

    assert answer.state == JobTicket.objects.get().state == "ready"
    assert Change.objects.filter(what="moved").count() == 2
    with pytest.raises(KeyReused):
        advance_ticket(by=fitter, ticket=ticket, state="collected", key=key)


def test_another_who_moves_it_from_the_same_state_is_still_told(take_in, fitter):
    ticket = take_in()
    seen = JobTicket.objects.select_related("wheel_pair__bike", "vendor").get()
    advance_ticket(by=fitter, ticket=ticket, state="on_machine", key=uuid.uuid4())

    with pytest.raises(TicketMoved):
        advance_ticket(by=fitter, ticket=seen, state="on_machine", key=uuid.uuid4())


def test_a_wish_is_mended_and_the_trail_says_what_it_was(take_in, fitter, front_spec, rear_spec, now):
    ticket = take_in(wishes=[{"axle": "rear"}], wish="new tire")
    later = now + timedelta(minutes=5)

    correct_ticket(
        by=fitter,
        at=later,
        ticket=ticket,
        wish="",
        promised_at=now + timedelta(hours=1),
        wishes=[{"axle": "rear", "spec": rear_spec, "destination": "kept"}, {"axle": "front"}],
    )
    correct_ticket(by=fitter, at=later, ticket=ticket, wishes=[{"axle": "front"}])

    stands = JobTicket.objects.get()
    told = [(line.noun, line.what) for line in Change.objects.filter(by=fitter).order_by("at")]
    assert (stands.wish, stands.promised_at, stands.axles) == ("", now + timedelta(hours=1), ["front"])
    assert told == [
        ("job_ticket", "made"),
        ("ticket_wish", "made"),
        ("job_ticket", "corrected"),
        ("ticket_wish", "corrected"),
        ("ticket_wish", "made"),
        ("ticket_wish", "deleted"),
    ]
    mended = Change.objects.get(noun="ticket_wish", what="corrected")
    assert (mended.before["spec"], mended.after["spec"]) == (None, str(rear_spec.pk))
    assert (mended.before["destination"], mended.after["destination"]) == ("", "kept")


def test_the_same_wishes_again_leave_no_line(take_in, fitter, rear_spec, now):
    wishes = [{"axle": "rear", "spec": rear_spec}]
    ticket = take_in(wishes=wishes)
    lines = Change.objects.count()

    correct_ticket(by=fitter, at=now + timedelta(minutes=1), ticket=ticket, wishes=wishes)

    assert Change.objects.count() == lines
    with pytest.raises(Invalid, match="Nothing to correct"):
        correct_ticket(by=fitter, at=now, ticket=ticket)


def test_only_the_vendors_crew_mends_a_ticket(take_in, stranger, rider_person, now):
    ticket = take_in()

    for nobody in (stranger, rider_person):
        with pytest.raises(NotFound):
            correct_ticket(by=nobody, at=now, ticket=ticket, wish="both")
        with pytest.raises(NotFound):
            wish_for_wheel(by=nobody, at=now, ticket=ticket, axle="rear")


def test_tickets_come_by_promised_time_and_those_without_one_last(take_in, fitter, bike, now):
    pairs = [
        add_wheel_pair(by=SERVICE, bike=bike, code=f"p{n}", name=f"p{n}", is_in_use=False) for n in range(3)
    ]
    for pair, minutes in zip(pairs, (None, 50, 20), strict=True):
        promised = None if minutes is None else now + timedelta(minutes=minutes)
        take_in(wheel_pair=pair, promised_at=promised)

    assert [ticket.number for ticket in tickets_for(fitter)] == [3, 2, 1]


def test_any_number_of_tickets_is_read_with_its_wishes_in_two_queries(
    take_in, fitter, bike, rear_spec, django_assert_num_queries
):
    for name in ("a", "b", "c"):
        pair = add_wheel_pair(by=SERVICE, bike=bike, code=name, name=name, is_in_use=False)
        take_in(wheel_pair=pair, wishes=[{"axle": "rear", "spec": rear_spec}])

    with django_assert_num_queries(2):
        said = [str(ticket.wish_for("rear").spec) for ticket in tickets_for(fitter)]
    assert len(said) == 3
