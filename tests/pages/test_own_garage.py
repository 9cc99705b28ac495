"""One's own garage: a gauge compared, a bike and wheels added, another pair used, a tire bought elsewhere."""

import re
import uuid
from datetime import timedelta

import pytest
from django.urls import reverse

from fleet.accounts.models import Change
from fleet.accounts.policy import SERVICE
from fleet.garage.actions import add_instrument, add_wheel_pair
from fleet.garage.models import Bike, Instrument, WheelPair
from fleet.inventory.models import Fitting, Tire

KPA_PER_PSI = 6.894757293168  # NIST SP 811 (2008), appendix B.8


@pytest.fixture
def send(as_, rider):
    client = as_(rider.person)
    return lambda address, **form: client.post(address, form, follow=True)


@pytest.fixture
def shown(as_, rider):
    return lambda address: re.sub(r"\s+", " ", as_(rider.person).get(address).content.decode())


@pytest.fixture
def gauge(rider, now):
    def add(days_ago, offset_kpa=3.0):
        return add_instrument(
            by=SERVICE,
            code="g-1",
            name="Pocket gauge",
            kind="pressure",
            rider=rider,
            offset_kpa=offset_kpa,
            compared_on=None if days_ago is None else (now - timedelta(days=days_ago)).date(),
        )

    return add


def test_a_first_comparison_stores_the_gauge_with_offset_and_date(send, rider, now):
    answer = send(reverse("gauge"), name="Pocket gauge", own_kpa="33.0", master_kpa="32.0", key=uuid.uuid4())

    stored = Instrument.objects.get()
    assert stored.offset_kpa == pytest.approx(KPA_PER_PSI, abs=0.001)
    assert (stored.rider, stored.compared_on) == (rider, now.date())
    assert "Pocket gauge reads 1.0\N{NO-BREAK SPACE}psi high" in answer.content.decode()


def test_another_comparison_replaces_the_first_and_the_trail_keeps_both(send, gauge, now):
    known = gauge(300)

    send(reverse("gauge"), own_kpa="31.5", master_kpa="32.0", key=uuid.uuid4())

    known.refresh_from_db()
    assert known.offset_kpa == pytest.approx(-0.5 * KPA_PER_PSI, abs=0.001)
    assert known.compared_on == now.date()
    lines = Change.objects.filter(row=known.pk)
    assert [line.before["offset_kpa"] for line in lines if "offset_kpa" in line.before] == [3.0]


@pytest.mark.parametrize(("days_ago", "said"), [(400, "an old comparison"), (None, "never compared")])
def test_an_old_comparison_is_called_old_where_pressures_are_shown(shown, gauge, days_ago, said):
    gauge(days_ago)

    assert said in shown("/garage/")
    assert said in shown(reverse("gauge"))


def test_a_fresh_comparison_is_not_called_old(shown, gauge):
    gauge(10)

    assert "an old comparison" not in shown("/garage/")


def test_two_readings_that_cannot_be_of_one_tire_are_refused(send):
    answer = send(reverse("gauge"), name="Pocket gauge", own_kpa="40", master_kpa="30")

    assert answer.status_code == 422
    assert "No gauge is that far off" in answer.content.decode()
    assert not Instrument.objects.exists()


def test_a_bike_is_added_with_its_wheels_in_use(send, rider):
    answer = send(reverse("add-bike"), description="300 single", wheels="dry")

    row = Bike.objects.get()
    assert (row.rider, row.description) == (rider, "300 single")
    assert WheelPair.objects.get().is_in_use
    assert answer.redirect_chain[-1][0] == reverse("wheels", args=[row.pk])


def test_a_bike_without_a_word_is_refused(send):
    answer = send(reverse("add-bike"), description="", wheels="dry", wheelbase_mm="12")

    assert answer.status_code == 422
    assert "What it is is missing" in answer.content.decode()
    assert not Bike.objects.exists()


def test_wheels_are_added_aside_and_swapped_with_one_tap(send, shown, bike, wheel_pair):
    send(reverse("wheels", args=[bike.pk]), name="wet")
    wet = WheelPair.objects.get(name="wet")
    assert not wet.is_in_use
    assert "Use wet" in shown(reverse("wheels", args=[bike.pk]))

    send(reverse("use-wheels", args=[wet.pk]))

    wet.refresh_from_db()
    wheel_pair.refresh_from_db()
    assert (wet.is_in_use, wheel_pair.is_in_use) == (True, False)
    assert "1000 sport, wet" in shown("/garage/")


def own_tire(spec, now, **changes):
    form = {
        "spec": spec.pk,
        "identification": "0826",
        "fitted_at": f"{now - timedelta(hours=1):%Y-%m-%dT%H:%M}",
        "key": str(uuid.uuid4()),
    }
    return form | changes


def test_a_tire_bought_elsewhere_goes_on_the_wheel_with_its_age(send, rider, wheel_pair, front_spec, now):
    form = own_tire(front_spec, now)

    for _ in range(2):
        answer = send(reverse("own-tire", args=[wheel_pair.pk]), **form)

    assert answer.status_code == 200
    fitting = Fitting.objects.get()
    assert (fitting.axle, fitting.tire.owner, fitting.tire.lot) == ("front", rider, None)
    # Week 8 of 2026 lies in February, by the calendar.
    assert (fitting.tire.identification, f"{fitting.tire.made_on:%Y-%m}") == ("0826", "2026-02")


def test_a_tire_that_cannot_go_on_leaves_no_tire_behind(send, wheel_pair, front_spec, fitted, now):
    tires = Tire.objects.count()

    answer = send(reverse("own-tire", args=[wheel_pair.pk]), **own_tire(front_spec, now))

    assert answer.status_code == 422
    assert Tire.objects.count() == tires


def test_a_date_code_that_is_none_is_refused(send, wheel_pair, front_spec, now):
    answer = send(
        reverse("own-tire", args=[wheel_pair.pk]), **own_tire(front_spec, now, identification="6099")
    )

    assert answer.status_code == 422
    assert not Tire.objects.exists()


def test_anothers_bike_and_wheels_are_not_there(as_, other_rider, bike, wheel_pair, front_spec, now):
    client = as_(other_rider.person)

    answers = [
        client.get(reverse("wheels", args=[bike.pk])),
        client.post(reverse("wheels", args=[bike.pk]), {"name": "wet"}),
        client.post(reverse("use-wheels", args=[wheel_pair.pk])),
        client.get(reverse("own-tire", args=[wheel_pair.pk])),
        client.post(reverse("own-tire", args=[wheel_pair.pk]), own_tire(front_spec, now)),
    ]

    assert {answer.status_code for answer in answers} == {404}
    assert not Tire.objects.exists()


def test_swapping_lays_the_garage_over_to_the_other_wheels(shown, send, bike, wheel_pair, fitted):
    wet = add_wheel_pair(by=SERVICE, bike=bike, code="w-wet", name="wet", is_in_use=False)
    send(reverse("use-wheels", args=[wet.pk]))

    assert "No tire is logged on this wheel" in shown("/garage/")
