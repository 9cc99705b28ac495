"""Gap and roll-out before and after a change, and what the change does to the bike, in plain words."""

import uuid

import pytest
from django.urls import reverse

from fleet.accounts.policy import SERVICE
from fleet.catalogue.actions import add_spec
from fleet.garage.models import Bike
from fleet.inventory.actions import receive_lot, replace_tire, take_wheels_in
from fleet.running.models import ShapeReading


@pytest.fixture
def ticket(tarn, wheel_pair, now):
    return take_wheels_in(by=SERVICE, at=now, vendor=tarn, wheel_pair=wheel_pair, opened_on=now.date())


@pytest.fixture
def address(ticket):
    return reverse("measures", args=[ticket.pk])


@pytest.fixture
def changed(ticket, fitted, fitter, tarn, line, now):
    """Robin's rear is a 200 now instead of a 190: fittings before and now."""
    spec = add_spec(
        by=SERVICE, line=line, code="lowmoor-td-r200", axle="rear", size="200/55 ZR17 M/C (78W)", new_depth_mm=6.0,
        wear_limit_mm=1.0,
    )  # fmt: skip
    lot = receive_lot(
        by=SERVICE, at=now, vendor=tarn, spec=spec, code="lot-200", date_code="0826", quantity=2, received_at=now,
        place="trailer",
    )  # fmt: skip
    new = replace_tire(
        by=fitter, at=now, wheel_pair=ticket.wheel_pair, axle="rear", fitted_at=now, reason="swap",
        destination="handed_back", lot=lot, ticket=ticket,
    )  # fmt: skip
    return fitted["rear"], new


@pytest.fixture
def chassis(bike):
    Bike.objects.filter(pk=bike.pk).update(wheelbase_mm=1405, rake_deg=24.0, fork_offset_mm=30.0)


def typed(**measured):
    return {"key": str(uuid.uuid4())} | measured


def test_before_and_now_are_stored_on_the_tires_they_were_read_on_and_the_bike_is_told_in_words(
    as_, fitter, address, changed, chassis
):
    old, new = changed

    answer = as_(fitter).post(address, typed(rear_before_gap="18", rear_now_gap="12.5"), follow=True)

    page = answer.content.decode()
    readings = {one.tire_id: one for one in ShapeReading.objects.all()}
    old.refresh_from_db()
    assert readings[old.tire_id].taken_at == old.removed_at
    assert (readings[old.tire_id].length_mm, readings[new.tire_id].length_mm) == (18.0, 12.5)
    assert "2 measurements stored" in page
    # Cossalter, Motorcycle Dynamics (2006), chapter 1: 5.5 mm more at the rear turn the frame by 5.5 / 1405 = 0.22 degrees.
    assert "\N{MINUS SIGN}0.22 ±" in page
    assert "less rake: it turns in quicker" in page
    assert "+5.5 ± 0.7&nbsp;mm" in page
    assert "by gap" in page


def test_sent_twice_it_is_stored_once(as_, fitter, address, changed):
    client, form = as_(fitter), typed(rear_before_gap="18", rear_now_gap="12.5")

    for _ in range(2):
        answer = client.post(address, form, follow=True)

    assert "it is stored once" in answer.content.decode()
    assert ShapeReading.objects.count() == 2


def test_before_anything_came_off_the_page_asks_to_measure_first(as_, fitter, address, fitted, chassis):
    client = as_(fitter)

    page = client.get(address).content.decode()
    answer = client.post(address, typed(front_now_roll_out="1860", rear_now_gap="18"))

    assert "Measure before the tires come off" in page
    assert "What the change does" not in page
    assert answer.status_code == 302
    assert set(ShapeReading.objects.values_list("tire", "quantity")) == {
        (fitted["front"].tire_id, "roll_out"),
        (fitted["rear"].tire_id, "gap"),
    }


def test_without_measurements_the_sizes_stand_in_and_say_so(as_, fitter, address, changed, chassis):
    page = as_(fitter).get(address).content.decode()

    assert "by the sizes alone" in page
    assert "tires of one size differ by millimeters" in page


def test_missing_chassis_figures_are_named(as_, fitter, address, changed):
    page = as_(fitter).get(address).content.decode()

    assert "the wheelbase and the rake and the fork offset of this bike are not on record" in page
    assert "Gearing" in page


def test_a_roll_out_that_is_no_turn_of_this_wheel_is_refused_with_what_it_is_around(
    as_, fitter, address, changed
):
    answer = as_(fitter).post(address, typed(rear_now_roll_out="1500", front_now_gap="12"))

    page = answer.content.decode()
    assert answer.status_code == 422
    # UN Regulation 75: 200/55 ZR17 is 652 mm across, 2048 mm around.
    assert "1500 mm is no turn of 200/55 ZR17 M/C (78W), which is 2048 mm around" in page
    assert 'value="12"' in page
    assert not ShapeReading.objects.exists()


def test_contradicting_measurements_are_pointed_out(as_, fitter, address, changed, chassis):
    form = typed(
        rear_before_gap="18", rear_now_gap="12", rear_before_roll_out="2000", rear_now_roll_out="1960"
    )

    page = as_(fitter).post(address, form, follow=True).content.decode()

    assert "Roll-out and gap of the rear wheel contradict each other" in page


def test_nothing_typed_is_said_in_words(as_, fitter, address, fitted):
    answer = as_(fitter).post(address, typed())

    assert answer.status_code == 422
    assert "enter at least one roll-out or gap" in answer.content.decode()


def test_a_strangers_ticket_is_not_there(as_, stranger, address):
    assert as_(stranger).get(address).status_code == 404
    assert as_(stranger).post(address, typed(rear_now_gap="12")).status_code == 404
