"""The form of a stint: what is filled in, what can be added, what is asked, and lap times from any sheet."""

import re
from datetime import timedelta

import pytest
from django.urls import reverse

from fleet.accounts.policy import SERVICE
from fleet.running.actions import log_stint
from fleet.running.models import (
    Adjustment,
    FeelNote,
    PressureReading,
    Stint,
    SurfaceNote,
    TemperatureReading,
    TreadReading,
)
from tests.pages.test_garage import stint_form

SHEET = "Lap;Lap time;Gap\n1;2:10,3;\n2;2:08,9;0,4\n3;2:09,1;0,2"


@pytest.fixture
def address(fitted):
    return reverse("stint", args=[fitted["front"].wheel_pair_id])


@pytest.fixture
def send(as_, rider, entry, address, day, local):
    client = as_(rider.person)
    return lambda **changes: client.post(address, stint_form(day, local, **changes))


def text(answer):
    return re.sub(r"\s+", " ", answer.content.decode())


def test_the_laps_are_filled_in_by_the_groups_pace(as_, rider, entry, slot, address):
    # Twenty minutes at the group's 112 seconds a lap: ten whole laps.
    page = text(as_(rider.person).get(address))

    assert re.search(r'name="laps" value="10"', page)


def test_the_laps_are_filled_in_by_the_riders_own_pace(
    as_, rider, entry, slot, address, layout, now, wheel_pair
):
    log_stint(
        by=SERVICE,
        at=now,
        wheel_pair=wheel_pair,
        layout=layout,
        started_at=now - timedelta(minutes=90),
        ended_at=now - timedelta(minutes=65),
        laps=10,
    )

    page = text(as_(rider.person).get(address))

    assert re.search(r'name="laps" value="8"', page)


def test_the_day_says_the_group(as_, rider, entry, address):
    assert ", group Fast, Longfield June Friday, " in text(as_(rider.person).get(address))


def test_everything_else_is_stored_in_ones_own_units(send, rider, fitted):
    rider.person.temperature_unit, rider.person.depth_unit = "F", "32nds"
    rider.person.save()

    answer = send(
        rear_c_C="176",
        rear_depth_C="7",
        rear_look="cold_tear",
        rear_look_zone="L2",
        change_0_part="rear_preload",
        change_0_before="3",
        change_0_after="4",
        change_0_unit="turns",
        phase="exit",
        effort="0.9",
    )

    assert answer.status_code == 302
    # 176 degrees F are 80 degrees C; 7/32 inch of 25.4 mm are 5.56 mm (NIST SP 811, appendix B.8).
    assert TemperatureReading.objects.get().surface_c == pytest.approx(80.0, abs=0.01)
    assert TreadReading.objects.get().depth_mm == pytest.approx(5.556, abs=0.001)
    note = SurfaceNote.objects.get()
    assert (note.tire, note.look, note.zone) == (fitted["rear"].tire, "cold_tear", "L2")
    changed = Adjustment.objects.get()
    assert (changed.part, changed.before, changed.after, changed.unit) == ("rear_preload", 3.0, 4.0, "turns")
    assert FeelNote.objects.get().phase == "exit"


def test_pasted_lap_times_are_stored_and_said(as_, rider, entry, address, day, local):
    form = stint_form(day, local, lap_times=SHEET, laps="3")

    answer = as_(rider.person).post(address, form, follow=True)

    assert Stint.objects.get().lap_times_s == [130.3, 128.9, 129.1]
    assert "3 lap times, the best 2:08.9." in text(answer)


def test_lap_times_tell_the_laps_nobody_typed(as_, rider, entry, slot, address, day, local):
    as_(rider.person).post(address, stint_form(day, local, laps="10", lap_times=SHEET))

    assert Stint.objects.get().laps == 3


def test_lap_times_that_cannot_be_read_name_their_line(send):
    answer = send(lap_times="1:42.3\nPIT\n1:43.0")

    page = answer.content.decode()
    assert answer.status_code == 422
    assert page.count("Line 2: “PIT” is no lap time") == 2
    assert "1:42.3\nPIT" in page
    assert "<details open>" in page


def test_what_was_read_of_the_lap_times_is_shown_when_something_else_is_wrong(send):
    page = text(send(lap_times=SHEET, front_in_kpa="a lot"))

    assert "3 lap times read (the column “Lap time”): 2:10.3, 2:08.9, 2:09.1" in page


def test_a_doubtful_value_is_asked_about_with_the_numbers_as_typed(send):
    answer = send(front_set_kpa="34", front_in_kpa="30")

    page = text(answer)
    assert answer.status_code == 422
    assert "Front, hot: 30.0 psi is less than the 34.0 psi that was set" in page
    assert "It is right as it is" in page
    assert not Stint.objects.exists()


def test_a_confirmed_value_is_stored_with_its_doubt(send):
    page = send(front_set_kpa="34", front_in_kpa="30").content.decode()
    confirmed = re.search(r'name="confirmed" value="(\w{16})"', page)[1]

    answer = send(front_set_kpa="34", front_in_kpa="30", confirmed=confirmed)

    assert answer.status_code == 302
    assert PressureReading.objects.exclude(doubt="").count() == 1


def test_confirming_one_value_confirms_no_other(send):
    page = send(front_set_kpa="34", front_in_kpa="30").content.decode()
    confirmed = re.search(r'name="confirmed" value="(\w{16})"', page)[1]

    answer = send(front_set_kpa="34", front_in_kpa="20", confirmed=confirmed)

    assert answer.status_code == 422
    assert "20.0 psi" in text(answer)
    assert not Stint.objects.exists()


def test_a_doubt_is_asked_only_once_the_form_is_right(send):
    page = text(send(front_set_kpa="34", front_in_kpa="30", started_at=""))

    assert "Out at is missing" in page
    assert "It is right as it is" not in page


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"rear_depth_C": "9"}, "is more tread than"),
        ({"rear_c_L1": "300"}, "300 °C is not plausible"),
        ({"change_0_part": "rear_preload"}, "To what was it changed?"),
        ({"change_1_after": "4"}, "What was changed?"),
        ({"rear_look": "shiny"}, "Select a valid choice"),
    ],
)
def test_what_cannot_be_is_refused_where_it_was_typed(send, changes, said):
    answer = send(**changes)

    page = text(answer)
    assert answer.status_code == 422
    assert page.count(said) == 2
    assert "<details open>" in page
    assert not Stint.objects.exists()


def test_what_is_left_out_stays_shut(as_, rider, entry, address):
    assert "<details open>" not in as_(rider.person).get(address).content.decode()
