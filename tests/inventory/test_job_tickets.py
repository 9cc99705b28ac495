"""Job tickets: wheels taken in, numbered by vendor and day, and moved along."""

from datetime import timedelta

import pytest

from fleet.accounts.policy import SERVICE
from fleet.errors import Invalid, NotAllowed, NotFound
from fleet.garage.actions import add_wheel_pair
from fleet.inventory.actions import advance_ticket, take_wheels_in
from fleet.inventory.errors import TicketMoved, WheelsInAlready
from fleet.inventory.models import JobTicket
from fleet.inventory.queries import tickets_for


@pytest.fixture
def take_in(tarn, wheel_pair, now):
    def do(**changes):
        given = {
            "by": SERVICE,
            "at": now,
            "vendor": tarn,
            "wheel_pair": wheel_pair,
            "opened_on": now.date(),
        }
        return take_wheels_in(**(given | changes))

    return do


@pytest.fixture
def more_wheels(bike):
    """Two more pairs of Robin's."""
    names = ["wet", "spare"]
    return [add_wheel_pair(by=SERVICE, bike=bike, code=name, name=name, is_in_use=False) for name in names]


def test_numbers_count_up_by_vendor_and_day(take_in, more_wheels, fitter, breckside, now):
    yesterday = now - timedelta(days=1)
    wet, spare = more_wheels

    numbers = [
        take_in(by=fitter).number,
        take_in(by=fitter, wheel_pair=wet).number,
        take_in(vendor=breckside).number,
        take_in(at=yesterday, opened_on=yesterday.date()).number,
        take_in(wheel_pair=spare).number,
    ]

    assert numbers == [1, 2, 1, 1, 3]


def test_wheels_that_are_here_are_not_taken_in_again_before_they_were_collected(take_in, fitter):
    ticket = take_in()

    with pytest.raises(WheelsInAlready, match="as number 1"):
        take_in()

    advance_ticket(by=fitter, ticket=ticket, state="collected")
    assert take_in().number == 2


def test_a_ticket_moves_along_unless_somebody_else_moved_it(take_in, fitter):
    ticket = take_in()
    old_copy = JobTicket.objects.get()

    assert advance_ticket(by=fitter, ticket=ticket, state="on_machine").state == "on_machine"

    with pytest.raises(TicketMoved):
        advance_ticket(by=fitter, ticket=old_copy, state="ready")
    assert JobTicket.objects.get().state == "on_machine"


def test_a_state_that_does_not_exist_is_refused_with_those_that_do(take_in, fitter):
    ticket = take_in()

    with pytest.raises(Invalid, match="waiting, on_machine, ready, collected"):
        advance_ticket(by=fitter, ticket=ticket, state="lost")


def test_a_ticket_is_opened_on_the_day_itself(take_in, now):
    with pytest.raises(Invalid) as refused:
        take_in(opened_on=now.date() + timedelta(days=2))

    assert refused.value.field == "opened_on"
    assert take_in(
        opened_on=now.date() + timedelta(days=1)
    ).pk  # east of Greenwich it may be tomorrow already


def test_an_organiser_takes_no_wheels_in(take_in, longfield):
    with pytest.raises(Invalid, match="by a vendor"):
        take_in(vendor=longfield)


def test_only_the_vendors_own_crew_takes_in_moves_and_sees_tickets(
    take_in, fitter, stock_manager, stranger, rider_person, crew, longfield
):
    ticket = take_in(by=stock_manager)

    for nobody in (stranger, rider_person):
        with pytest.raises(NotFound):
            take_in(by=nobody)
        with pytest.raises(NotFound):
            advance_ticket(by=nobody, ticket=ticket, state="ready")
    with pytest.raises(NotAllowed):
        take_in(by=crew, vendor=longfield)

    assert list(tickets_for(fitter)) == [ticket]
    assert [tickets_for(by).count() for by in (stranger, rider_person, crew)] == [0, 0, 0]
