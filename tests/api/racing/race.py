"""A race over HTTP, and what is raced for."""

from collections import Counter
from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from threading import Barrier

from fleet.accounts.policy import SERVICE
from fleet.garage.actions import add_bike, add_wheel_pair, register_rider
from fleet.inventory.actions import receive_lot

CALLERS = 8
ROUNDS = range(3)
WON = (201, None)
DONE = (200, None)


def race(*calls):
    """Start all calls together; count their answers by status and code."""
    gate = Barrier(len(calls))

    def run(call):
        gate.wait()
        answer = call()
        code = answer.json()["code"] if answer.status_code >= 400 else None
        return answer.status_code, code

    with ThreadPoolExecutor(len(calls)) as pool:
        return Counter(pool.map(run, calls))


def bare_wheels(name, tarn):
    """Return the wheels of a walk-in of Tarn's, with nothing on them."""
    rider = register_rider(by=SERVICE, code=f"race-{name}", name="Wendel Arp", registered_with=tarn)
    bike = add_bike(by=SERVICE, rider=rider, code=f"race-{name}", description="600 sport")
    return add_wheel_pair(by=SERVICE, bike=bike, code=f"race-{name}", name="dry")


def lot_of(quantity, name, tarn, spec, now):
    """Return a lot on the trailer."""
    return receive_lot(
        by=SERVICE,
        at=now,
        vendor=tarn,
        spec=spec,
        code=f"race-{name}",
        date_code="0826",
        quantity=quantity,
        received_at=now - timedelta(days=1),
        place="trailer",
    )


def ago(now, minutes):
    """Return a moment as the API reads it."""
    return (now - timedelta(minutes=minutes)).isoformat()
