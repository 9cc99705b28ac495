"""Beside the world of the API's tests: rows that can still be fitted, entered, issued and voided."""

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

import pytest

from fleet.accounts.policy import SERVICE
from fleet.events.actions import add_day, record_conditions
from fleet.garage.actions import add_bike, add_wheel_pair, register_rider, share
from fleet.inventory.actions import add_own_tire, fit_tire, offer_tire, remove_tire
from fleet.pressures.actions import draft_day
from fleet.running.actions import note_surface, record_tread
from fleet.trials.actions import judge_test, plan_test


@dataclass(frozen=True)
class Unspent:
    """Rows that a write uses up."""

    draft: Any
    free_day: Any
    bare_wheels: Any
    removal: Any
    tread: Any
    surface_note: Any
    judged: Any
    handover_token: str


@pytest.fixture
def draft(world, day, slot, now):
    """A draft with lines, not issued yet, for the Friday Robin is entered on."""
    record_conditions(
        by=SERVICE,
        at=now,
        day=day,
        holds_at=now - timedelta(minutes=1),
        standing="observed",
        source="thermometer in the shade",
        air_c=39.0,
    )
    return draft_day(by=SERVICE, at=now, day=day)


@pytest.fixture
def walk_in(tarn):
    rider = register_rider(by=SERVICE, code="walk-in", name="Wendel Arp", registered_with=tarn)
    return add_bike(by=SERVICE, rider=rider, code="walk-in", description="600 sport")


@pytest.fixture
def removal(walk_in, front_lot, now):
    """The only tire of a wheel pair, taken off it again."""
    pair = add_wheel_pair(by=SERVICE, bike=walk_in, code="emptied", name="dry")
    fitted_at = now - timedelta(hours=3)
    fitting = fit_tire(by=SERVICE, at=now, wheel_pair=pair, axle="front", fitted_at=fitted_at, lot=front_lot)
    return remove_tire(
        by=SERVICE,
        at=now,
        fitting=fitting,
        removed_at=now - timedelta(hours=2),
        reason="swap",
        destination="kept",
    )


@pytest.fixture
def judged(world, longfield, wheel_pair, fitted, now):
    """A test with a verdict and without a run."""
    other = world.rows["tire-test"]
    share(by=world.rider.person, rider=world.rider, organisation=longfield, scope="stints", at=now)
    test = plan_test(
        by=SERVICE,
        organisation=longfield,
        code="judged",
        bike=wheel_pair.bike,
        question="Which goes longer?",
        planned_on=now.date(),
        baseline_front=other.baseline_front,
        baseline_rear=other.baseline_rear,
        baseline_pair=wheel_pair,
        candidate_front=other.candidate_front,
        candidate_rear=other.candidate_rear,
        candidate_pair=wheel_pair,
    )
    return judge_test(by=SERVICE, test=test, verdict="The other.", judged_on=now.date())


@pytest.fixture
def handover_token(other_rider, front_spec, now):
    """The token of a link with which Ottie hands a tire over."""
    tire = add_own_tire(by=SERVICE, at=now, rider=other_rider, spec=front_spec)
    return offer_tire(by=other_rider.person, at=now, tire=tire)[1]


@pytest.fixture
def unspent(draft, event, layout, walk_in, removal, fitted, rider_person, judged, handover_token, now):
    tire = fitted["front"].tire
    return Unspent(
        draft=draft,
        free_day=add_day(by=SERVICE, event=event, date=date(2026, 6, 13), layout=layout),
        bare_wheels=add_wheel_pair(by=SERVICE, bike=walk_in, code="bare", name="wet", is_in_use=False),
        removal=removal,
        judged=judged,
        handover_token=handover_token,
        tread=record_tread(by=rider_person, at=now, tire=tire, zone="L1", taken_at=now, depth_mm=4.8),
        surface_note=note_surface(by=rider_person, at=now, tire=tire, look="even", seen_at=now),
    )
