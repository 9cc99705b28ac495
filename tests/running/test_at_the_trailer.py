"""Both wheels of a ticket are set in one step: all of it or nothing, and sent twice once."""

import uuid
from datetime import timedelta

import pytest

from fleet.errors import Invalid, KeyReused, NotFound
from fleet.inventory.actions import replace_tire
from fleet.running.actions import set_pressures
from fleet.running.actions.at_the_trailer import AsSet
from fleet.running.models import PressureReading


def given(wheel_pair, tarn, fitter, now, **changes):
    return {
        "by": fitter, "at": now, "wheel_pair": wheel_pair, "taken_at": now, "vendor": tarn, "key": uuid.uuid4(),
        "by_axle": {"front": AsSet(215.0, 21.0), "rear": AsSet(200.0)},
    } | changes  # fmt: skip


def test_both_are_stored_for_the_tires_that_were_on_then(fitter, tarn, wheel_pair, fitted, rear_lot, now):
    before = now - timedelta(hours=1)
    replace_tire(
        by=fitter, at=now, wheel_pair=wheel_pair, axle="rear", fitted_at=now - timedelta(minutes=5), reason="worn",
        destination="scrapped", lot=rear_lot,
    )  # fmt: skip

    stored = set_pressures(**given(wheel_pair, tarn, fitter, now, taken_at=before))

    assert stored["rear"].tire == fitted["rear"].tire
    assert (stored["front"].pressure_kpa, stored["front"].tire_c) == (215.0, 21.0)


def test_where_one_is_refused_the_other_is_not_stored_either(fitter, tarn, wheel_pair, fitted, now):
    with pytest.raises(Invalid):
        set_pressures(
            **given(
                wheel_pair,
                tarn,
                fitter,
                now,
                by_axle={"front": AsSet(215.0), "rear": AsSet(200.0, tire_c=900.0)},
            )
        )

    assert not PressureReading.objects.exists()


def test_a_key_sent_twice_stores_once_and_with_other_figures_is_refused(
    fitter, tarn, wheel_pair, fitted, now
):
    once = given(wheel_pair, tarn, fitter, now)

    first, second = set_pressures(**once), set_pressures(**once)
    with pytest.raises(KeyReused):
        set_pressures(**once | {"by_axle": {"front": AsSet(216.0), "rear": AsSet(200.0)}})

    assert first == second
    assert PressureReading.objects.count() == 2


def test_nobody_but_the_crew_that_serves_the_rider_sets_them(
    stranger, breckside, tarn, wheel_pair, fitted, now
):
    for vendor in (tarn, breckside):
        with pytest.raises(NotFound):
            set_pressures(**given(wheel_pair, tarn, stranger, now, vendor=vendor))

    assert not PressureReading.objects.exists()


def test_an_empty_wheel_and_nothing_at_all_are_refused_in_words(fitter, tarn, wheel_pair, now):
    with pytest.raises(Invalid, match="There was no front tire on these wheels then"):
        set_pressures(**given(wheel_pair, tarn, fitter, now))
    with pytest.raises(Invalid, match="enter the one of at least one wheel"):
        set_pressures(**given(wheel_pair, tarn, fitter, now, by_axle={}))
