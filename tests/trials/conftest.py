"""A test of Robin's: the Lowmoor on the bike against an Alder rear, run by Longfield's tester."""

from datetime import timedelta

import pytest

from fleet.accounts.policy import SERVICE
from fleet.catalogue.actions import add_line, add_spec
from fleet.garage.actions import add_wheel_pair, correct_bike, share
from fleet.inventory.actions import add_own_tire, fit_tire
from fleet.running.actions import log_stint
from fleet.trials.actions import AxleLengths, add_run, measure, plan_test

MORNING = [112.4, 112.1, 112.6, 112.2, 112.3, 112.5, 112.2]
NOON = [111.2, 111.0, 111.4, 111.1, 111.3, 111.0, 111.2]


@pytest.fixture
def chassis(bike):
    """Robin's bike, measured: the worked example of the geometry's tests."""
    return correct_bike(by=SERVICE, bike=bike, wheelbase_mm=1400.0, rake_deg=24.0, fork_offset_mm=30.0)


@pytest.fixture
def shared(rider, longfield, now):
    """Robin opens stints and readings to Longfield."""
    return share(
        by=rider.person, rider=rider, organisation=longfield, scope="stints", at=now - timedelta(days=2)
    )


@pytest.fixture
def alder(db):
    line = add_line(by=SERVICE, maker="Corvane", name="Alder TD", category="track_day")
    return {
        axle: add_spec(
            by=SERVICE,
            line=line,
            code=f"alder-{axle}",
            axle=axle,
            size=size,
            new_depth_mm=5.5,
            wear_limit_mm=1.0,
        )
        for axle, size in (("front", "120/70 ZR17 M/C (58W)"), ("rear", "190/55 ZR17 M/C (75W)"))
    }


@pytest.fixture
def second_pair(bike):
    return add_wheel_pair(by=SERVICE, bike=bike, code="w-002", name="test wheels", is_in_use=False)


@pytest.fixture
def candidate(second_pair, alder, rider, now):
    """The candidate set, fitted at seven on the second pair: fittings by axle."""
    return {
        axle: fit_tire(
            by=SERVICE,
            at=now,
            wheel_pair=second_pair,
            axle=axle,
            fitted_at=now - timedelta(hours=4),
            tire=add_own_tire(
                by=SERVICE, at=now, rider=rider, spec=spec, label_code=f"CAND{axle[0].upper()}"
            ),
        )
        for axle, spec in alder.items()
    }


@pytest.fixture
def plan(longfield, bike, front_spec, rear_spec, alder, wheel_pair, second_pair, layout, now):
    """What is planned, to be changed by a test before it is stored."""
    return {
        "organisation": longfield,
        "code": "t-1",
        "bike": bike,
        "question": "Is the Alder quicker than the Lowmoor?",
        "planned_on": now.date(),
        "baseline_front": front_spec,
        "baseline_rear": rear_spec,
        "baseline_pair": wheel_pair,
        "candidate_front": alder["front"],
        "candidate_rear": alder["rear"],
        "candidate_pair": second_pair,
        "layout": layout,
        "held_constant": "fuel, damping, lines",
    }


@pytest.fixture
def trial(plan, shared, tester, fitted, candidate, chassis):
    """The test as planned, with both sets fitted."""
    return plan_test(by=tester, **plan)


@pytest.fixture
def measured(trial, tester, now):
    """The front 5 mm larger by its gap, the rear 10 mm larger in roll-out over 2 pi."""
    for side, gap, roll_out in (("baseline", 20.0, 1979.0), ("candidate", 15.0, 1989.0)):
        measure(
            by=tester,
            at=now,
            test=trial,
            side=side,
            taken_at=now - timedelta(hours=3),
            measured={
                "front": AxleLengths(gap_mm=gap, roll_out_mm=None),
                "rear": AxleLengths(roll_out_mm=roll_out),
            },
        )
    return trial


@pytest.fixture
def ride(rider_person, layout, now):
    """Let Robin ride a stint, so many minutes before now."""

    def do(pair, minutes_ago, lap_times_s, **more):
        started_at = now - timedelta(minutes=minutes_ago)
        return log_stint(
            by=rider_person,
            at=now,
            wheel_pair=pair,
            layout=layout,
            started_at=started_at,
            ended_at=started_at + timedelta(minutes=18),
            laps=len(lap_times_s) or 7,
            lap_times_s=lap_times_s,
            **more,
        )

    return do


@pytest.fixture
def runs(trial, ride, tester, now):
    """A consistency run on each set."""
    stints = (
        ride(trial.baseline_pair, 160, MORNING, front_set_kpa=205.0, rear_set_kpa=190.0),
        ride(trial.candidate_pair, 60, NOON, front_set_kpa=205.0, rear_set_kpa=185.0),
    )
    return [add_run(by=tester, at=now, test=trial, stint=stint, purpose="consistency") for stint in stints]
