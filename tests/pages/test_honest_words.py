"""What garage, trailer and trials say where something is not known, is practice, or can hurt somebody."""

import re
import uuid
from datetime import timedelta
from html import unescape
from zoneinfo import ZoneInfo

import pytest
from django.urls import reverse

from fleet.accounts.policy import SERVICE
from fleet.errors import Invalid
from fleet.inventory.actions import place_hold, take_wheels_in
from fleet.inventory.models import Fitting
from fleet.life.assessments import assess
from fleet.life.models import Assessment
from fleet.pages.forms import MeasuredField, PlainForm
from fleet.quantities import PRESSURE
from fleet.running.actions import record_tread
from fleet.science.rolling import RELEARN_PERCENT
from fleet.trials.actions import AxleLengths, measure
from tests.pages.trials.conftest import (  # noqa: F401 -- fixtures
    alder,
    candidate,
    chassis,
    measured,
    plan,
    ride,
    runs,
    second_pair,
    shared,
    trial,
)

PRACTICE = "common practice, no published source"


@pytest.fixture
def shown(as_):
    def get(person, name, *args):
        answer = as_(person).get(reverse(name, args=args))
        assert answer.status_code == 200
        plain = unescape(re.sub(r"<[^>]+>", " ", answer.content.decode()))
        return re.sub(r" (?=[,.;:])", "", re.sub(r"\s+", " ", plain))

    return get


@pytest.fixture
def worn(fitted, guidance, now):
    """The rear tire, read at 0.9 mm where its limit is 1.0 mm."""
    tire = fitted["rear"].tire
    record_tread(by=SERVICE, at=now, tire=tire, zone="C", taken_at=now, depth_mm=0.9)
    assess(None, at=now)
    return tire


def rewrite(tire, **changes):
    """Let the newest assessment of a tire say something else."""
    newest = Assessment.objects.get(tire=tire, is_newest=True)
    for name, value in changes.items():
        setattr(newest, name, value)
    newest.save()


@pytest.mark.parametrize("page", ["garage", "tire"])
def test_a_limit_reached_is_told_by_what_was_read_and_not_as_no_days_left(shown, rider_person, worn, page):
    text = shown(rider_person, page, *([worn.pk] if page == "tire" else []))

    assert "limit reached: tread, read 0.9 mm at C, limit 1.0 mm" in text
    assert "0.0 days left" not in text


def test_a_tire_likely_through_since_its_last_reading_asks_to_be_read_again(shown, rider_person, worn):
    rewrite(worn, depth_mm=1.3)

    text = shown(rider_person, "garage")

    assert "likely through by now: last read 1.3 mm at C, limit 1.0 mm, and it has run since" in text


def test_a_tire_nobody_read_says_that_its_limit_is_foretold(shown, rider_person, worn):
    rewrite(worn, depth_mm=None, depth_zone="")

    assert "no depth was read, read it now" in shown(rider_person, "garage")


def test_the_ticket_says_the_same_as_the_garage(shown, fitter, worn, tarn, wheel_pair, now):
    ticket = take_wheels_in(by=SERVICE, at=now, vendor=tarn, wheel_pair=wheel_pair, opened_on=now.date())

    text = shown(fitter, "ticket", ticket.pk)

    assert "limit reached: tread, read 0.9 mm at C" in text
    assert "0.0 days left" not in text


def test_after_a_stint_the_advice_to_stay_in_says_why(shown, rider_person, stint, worn):
    text = shown(rider_person, "after-stint", stint.pk)

    assert "Stay in: the rear tire must not go out" in text
    assert "Rear: limit reached: tread, read 0.9 mm at C, limit 1.0 mm" in text
    assert "The rear tire must not go out." not in text


def test_after_a_stint_a_hold_is_named_as_one(shown, rider_person, stint, guidance, assessed, tarn, now):
    tire = assessed["front"].tire
    place_hold(by=SERVICE, at=now, tire=tire, placed_for=tarn, reason="damage", placed_at=now)

    text = shown(rider_person, "after-stint", stint.pk)

    assert "Front: on hold" in text


def test_a_tire_goes_on_by_the_clock_of_the_track(
    as_, rider_person, wheel_pair, entry, front_spec, track, now
):
    address = reverse("own-tire", args=[wheel_pair.pk])
    local = now.astimezone(ZoneInfo(track.time_zone))

    page = as_(rider_person).get(address).content.decode()
    as_(rider_person).post(
        address,
        {
            "spec": front_spec.pk,
            "identification": "",
            "fitted_at": f"{local:%Y-%m-%dT%H:%M}",
            "key": uuid.uuid4(),
        },
    )

    assert f"The clock of {track.time_zone}." in page
    assert Fitting.objects.get(wheel_pair=wheel_pair).fitted_at == now


@pytest.mark.parametrize(
    ("unit", "typed", "said"),
    [
        ("bar", "36", "36 bar is not plausible: give 0.50 to 7.00 bar. 36 psi would be 2.48 bar."),
        ("psi", "2,5", "2.5 psi is not plausible: give 7.3 to 101.5 psi. 2.5 bar would be 36.3 psi."),
        ("psi", "250", "250 psi is not plausible: give 7.3 to 101.5 psi. 250 kPa would be 36.3 psi."),
        ("psi", "0", "0 psi is not plausible: give 7.3 to 101.5 psi."),
    ],
)
def test_a_pressure_in_another_unit_is_refused_with_what_it_would_be(unit, typed, said):
    """NIST SP 811 (2008), appendix B.8: 1 psi = 6.894757 kPa, so 36 psi = 248.2 kPa and 250 kPa = 36.26 psi."""

    class Form(PlainForm):
        set_kpa = MeasuredField(unit=PRESSURE[unit], low=50, high=700, label="Set")

    assert Form({"set_kpa": typed}).errors["set_kpa"] == [said]


@pytest.mark.parametrize("typed", ["abc", "nan", "1e999", "thirty"])
def test_the_example_for_a_pressure_is_one_a_tire_is_ridden_at(typed):
    class Form(PlainForm):
        set_kpa = MeasuredField(unit=PRESSURE["psi"], low=50, high=700, label="Set")

    assert Form({"set_kpa": typed}).errors["set_kpa"] == [f"“{typed}” is no number: give psi, such as 31.9."]


def test_the_example_for_an_adjuster_names_no_unit(as_, rider_person, wheel_pair, entry):
    answer = as_(rider_person).post(reverse("stint", args=[wheel_pair.pk]), {"change_0_before": "two"})

    assert "is no number: give one, such as 12.0." in answer.content.decode()


def test_a_gap_of_nothing_is_a_tire_that_touches_and_is_refused(as_, tester, trial):  # noqa: F811
    answer = as_(tester).post(reverse("measure-set", args=[trial.pk, "baseline"]), {"front_gap": "0"})

    assert answer.status_code == 422
    assert "0 mm is not plausible: give 1.0 to 200.0 mm." in answer.content.decode()


def test_wheels_are_not_promised_for_another_year(fitted, wheel_pair, tarn, now):
    with pytest.raises(Invalid, match="within 90 days after they came in: check the year"):
        take_wheels_in(
            by=SERVICE,
            at=now,
            vendor=tarn,
            wheel_pair=wheel_pair,
            opened_on=now.date(),
            promised_at=now + timedelta(days=91),
        )


def test_a_date_that_is_none_is_refused_with_one_that_would_be(as_, tester, trial):  # noqa: F811
    answer = as_(tester).post(reverse("judge", args=[trial.pk]), {"verdict": "Even.", "judged_on": "soon"})

    assert "This is no date: give one such as 2026-06-12." in answer.content.decode()


@pytest.mark.parametrize(
    ("page", "caution"),
    [
        ("measure-set", "Secure the bike before anybody reaches under it."),
        ("tread-seen", "keep fingers out of a turning wheel"),
    ],
)
def test_where_hands_go_near_a_wheel_the_caution_comes_before_the_form(shown, tester, trial, page, caution):  # noqa: F811
    text = shown(tester, page, trial.pk, "baseline")

    assert text.index(caution) < text.index("Store what")


def test_the_trailers_gap_and_roll_out_begins_with_securing_the_bike(
    shown, fitter, fitted, tarn, wheel_pair, now
):
    ticket = take_wheels_in(by=SERVICE, at=now, vendor=tarn, wheel_pair=wheel_pair, opened_on=now.date())

    text = shown(fitter, "measures", ticket.pk)

    assert text.index("Secure the bike before anybody reaches under it.") < text.index("Front roll-out")


def test_a_test_begins_with_its_next_step(shown, tester, trial):  # noqa: F811
    first, second = trial.steps.order_by("position")[:2]
    first.state = "done"
    first.save()

    text = shown(tester, "tire-test", trial.pk)

    assert text.index(f"Next: {second}") < text.index("What is compared")


def test_a_rider_who_reads_a_test_is_sent_to_no_step(shown, rider_person, trial):  # noqa: F811
    assert "Next: " not in shown(rider_person, "tire-test", trial.pk)


def test_heat_cycles_are_called_a_guideline_of_practice(shown, rider_person, stint, guidance, assessed):
    text = shown(rider_person, "tire", assessed["rear"].tire.pk)

    assert re.search(rf"guideline (for its kind|stated for this tire); .*{PRACTICE}", text)


def test_how_often_a_gauge_is_compared_is_called_practice(shown, rider, rider_person):
    assert f"once a year at least is {PRACTICE}" in shown(rider_person, "gauge")


def test_relearning_is_told_with_its_threshold_as_practice(shown, tester, measured, now):  # noqa: F811
    measure(
        by=tester, at=now, test=measured, side="candidate", taken_at=now, measured={"rear": AxleLengths(roll_out_mm=2050.0)},
    )  # fmt: skip

    text = shown(tester, "stance", measured.pk)

    assert f"(from {RELEARN_PERCENT} %; {PRACTICE})" in text
