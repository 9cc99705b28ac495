"""Two writes that exclude each other, at the same moment, on PostgreSQL: whoever comes second learns what the first did."""

from datetime import timedelta
from functools import partial

import pytest

from fleet.accounts.policy import SERVICE
from fleet.garage.actions import add_wheel_pair
from fleet.inventory.actions import add_own_tire, fit_tire, remove_tire
from fleet.inventory.models import Fitting
from fleet.inventory.queries import left_at
from fleet.running.actions import log_stint
from fleet.running.models import PressureReading, Stint
from tests.api.racing.race import CALLERS, DONE, ROUNDS, WON, ago, bare_wheels, lot_of, race

pytestmark = [pytest.mark.postgres, pytest.mark.django_db(transaction=True)]
BUSY = (503, "busy")


def wheels(rider_person, bike, name):
    return add_wheel_pair(by=rider_person, bike=bike, code=name, name=name, is_in_use=False)


def own_set(rider_person, rider, pair, specs, now):
    """Robin's own tires, on for three hours."""
    return [
        fit_tire(
            by=rider_person,
            at=now,
            wheel_pair=pair,
            axle=spec.axle,
            fitted_at=now - timedelta(hours=3),
            tire=add_own_tire(by=rider_person, at=now, rider=rider, spec=spec),
        )
        for spec in specs
    ]


def test_a_tire_is_scrapped_or_fitted_again(client, rider_person, rider, bike, front_spec, now):
    robin = client(rider_person)

    for number in ROUNDS:
        pair, other = (wheels(rider_person, bike, f"{name}-{number}") for name in ("dry", "wet"))
        [fitting] = own_set(rider_person, rider, pair, [front_spec], now)
        removal = {"removed_at": ago(now, 10), "reason": "worn", "destination": "scrapped"}
        again = {"wheel_pair": str(other.pk), "axle": "front", "fitted_at": ago(now, 5)}
        fit = partial(robin.post, "fittings", json=again | {"tire": str(fitting.tire_id)})
        answers = race(partial(robin.post, f"fittings/{fitting.pk}/removal", json=removal), *[fit] * 4)

        assert answers[WON] == 1
        assert set(answers) <= {WON, (409, "overlap"), (409, "scrapped"), BUSY}
        assert not other.fittings.exists()


def test_a_tire_goes_back_into_stock_or_on_a_wheel(client, fitter, tarn, front_spec, now):
    trailer = client(fitter)

    for number in ROUNDS:
        pair, lot = bare_wheels(number, tarn), lot_of(1, number, tarn, front_spec, now)
        on, off = (now - timedelta(hours=hours) for hours in (2, 1))
        first = fit_tire(by=SERVICE, at=now, wheel_pair=pair, axle="front", fitted_at=on, lot=lot)
        why = {"reason": "swap", "destination": "kept"}
        remove_tire(by=SERVICE, at=now, fitting=first, removed_at=off, **why)
        again = {"wheel_pair": str(pair.pk), "axle": "front", "fitted_at": ago(now, 5)}
        again |= {"tire": str(first.tire_id), "vendor": str(tarn.pk)}
        answers = race(
            partial(trailer.post, f"fittings/{first.pk}/void", json={"reason": "never happened"}),
            partial(trailer.post, "fittings", json=again),
        )

        assert set(answers) in ({DONE, (409, "back-in-stock")}, {WON, (409, "fitted-since")})
        on_a_wheel = Fitting.objects.filter(tire=first.tire_id, removed_at=None, voided_at=None).exists()
        assert left_at(lot, "trailer") + on_a_wheel == 1


def test_a_stint_ran_on_a_tire_or_its_fitting_is_void(
    client, rider_person, rider, bike, front_spec, rear_spec, now
):
    robin = client(rider_person)

    for number in ROUNDS:
        pair = wheels(rider_person, bike, f"pair-{number}")
        front, _rear = own_set(rider_person, rider, pair, [front_spec, rear_spec], now)
        ride = {"started_at": ago(now, 60), "ended_at": ago(now, 40), "distance_km": 30}
        log = partial(robin.post, "stints", json=ride | {"wheel_pair": str(pair.pk)})
        answers = race(
            log,
            partial(robin.post, f"fittings/{front.pk}/void", json={"reason": "never happened"}),
            log,
        )

        ran = Stint.objects.filter(wheel_pair=pair, voided_at=None).exists()
        voided = pair.fittings.filter(voided_at__isnull=False).exists()
        assert ran != voided, answers
        assert all(status < 500 for status, _code in answers)


def test_no_reading_stands_on_a_stint_that_is_voided(client, rider_person, wheel_pair, fitted, now):
    robin, tire = client(rider_person), str(fitted["front"].tire_id)

    for number in ROUNDS:
        start, end = (now - timedelta(minutes=minutes + 30 * number) for minutes in (50, 30))
        stint = log_stint(
            by=rider_person,
            at=now,
            wheel_pair=wheel_pair,
            started_at=start,
            ended_at=end,
            distance_km=30,
        )
        reading = {"tire": tire, "stint": str(stint.pk), "moment": "later", "pressure_kpa": 210}
        answers = race(
            *[
                partial(robin.post, "pressures", json=reading | {"taken_at": ago(now, caller)})
                for caller in range(CALLERS)
            ],
            partial(robin.post, f"stints/{stint.pk}/void", json={"reason": "slip of the pen"}),
        )

        assert answers[DONE] == 1
        assert set(answers) <= {DONE, WON, (409, "stint-voided")}
        assert not PressureReading.objects.filter(stint=stint, voided_at=None).exists()
