"""Whose wheels may come in today, as the list that a device keeps has them."""

from datetime import timedelta

from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from fleet.accounts.policy import SERVICE
from fleet.events.actions import add_day, enter
from fleet.garage.actions import add_bike, add_wheel_pair, register_rider
from fleet.inventory.actions import take_wheels_in


def served(tarn, place):
    """Register a rider of Tarn with a bike and wheels."""
    rider = register_rider(
        by=SERVICE, code=f"r-more-{place}", name=f"Wyn Tarrow {place}", registered_with=tarn
    )
    bike = add_bike(by=SERVICE, rider=rider, code=f"b-more-{place}", description="600 sport")
    add_wheel_pair(by=SERVICE, bike=bike, code=f"w-more-{place}", name="dry")
    return bike


def test_who_rides_today_or_tomorrow_stands_there_with_the_number_and_what_is_on_the_wheels(
    as_, fitter, tarn, entry, fitted, event, layout, group, day
):
    tomorrow = add_day(by=SERVICE, event=event, date=day.date + timedelta(days=1), layout=layout)
    later = add_day(by=SERVICE, event=event, date=day.date + timedelta(days=5), layout=layout)
    enter(by=SERVICE, day=tomorrow, bike=served(tarn, 1), group=group, number="41")
    enter(by=SERVICE, day=later, bike=served(tarn, 2), group=group, number="42")

    page = as_(fitter).get(reverse("expected")).content.decode()

    assert "Robin Vale" in page
    assert "Mirrin Lowmoor TD 190/55" in page
    assert fitted["rear"].tire.label_code.lower() in page
    assert "Wyn Tarrow 1" in page
    assert "Wyn Tarrow 2" not in page


def test_wheels_that_are_here_lead_to_their_ticket(as_, fitter, tarn, entry, wheel_pair, fitted, now):
    ticket = take_wheels_in(by=SERVICE, at=now, vendor=tarn, wheel_pair=wheel_pair, opened_on=now.date())

    page = as_(fitter).get(reverse("expected")).content.decode()

    assert f"Here as number {ticket.number}" in page
    assert reverse("ticket", args=[ticket.pk]) in page


def test_another_vendors_crew_expects_nobody_of_these(as_, stranger, entry, fitted):
    page = as_(stranger).get(reverse("expected")).content.decode()

    assert "Robin Vale" not in page
    assert "Nobody you serve is entered" in page


def test_the_list_asks_the_database_as_often_for_many_as_for_one(
    as_, fitter, tarn, entry, fitted, day, group
):
    client = as_(fitter)
    for place in range(6):
        bike = served(tarn, place)
        if place:
            enter(by=SERVICE, day=day, bike=bike, group=group, number=str(50 + place))
        with CaptureQueriesContext(connection) as asked:
            client.get(reverse("expected"))
        if place == 1:
            few = len(asked)

    assert len(asked) == few
