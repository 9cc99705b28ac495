"""A stint with everything measured: all of it or nothing, once, and doubtful values asked about."""

import uuid
from datetime import timedelta

import pytest

from fleet.errors import Conflict, Invalid
from fleet.running.actions import Change, Look, Measured, log_whole_stint, record_tread
from fleet.running.errors import Doubtful
from fleet.running.models import (
    Adjustment,
    PressureReading,
    Stint,
    SurfaceNote,
    TemperatureReading,
    TreadReading,
)
from fleet.running.queries import usual_lap_s

KEY = uuid.UUID("6a1f6b64-53c0-4a4e-9d0a-0b0a2b9e7c11")
ALL = Measured(
    surface_c={("rear", "C"): 84.0, ("front", "L1"): 71.0},
    depth_mm={("rear", "C"): 5.4, ("rear", "R2"): 4.9},
    looks=[Look("rear", "hot_tear", "R2")],
    changes=[Change("rear_rebound", 8.0, 10.0, "clicks"), Change("front_pressure", None, 31.5, "psi")],
)


@pytest.fixture
def whole(fitted, rider_person, wheel_pair, layout, now):
    """Log Robin's twenty minutes with what was measured, unless told otherwise."""

    def log(*, measured=ALL, targets_kpa=None, is_confirmed=False, key=KEY, **changes):
        stint = {
            "wheel_pair": wheel_pair,
            "layout": layout,
            "started_at": now - timedelta(minutes=40),
            "ended_at": now - timedelta(minutes=20),
            "laps": 9,
            "rear_set_kpa": 190.0,
            "rear_in_kpa": 215.0,
        }
        return log_whole_stint(
            by=rider_person,
            at=now,
            key=key,
            stint=stint | changes,
            measured=measured,
            targets_kpa=targets_kpa or {},
            is_confirmed=is_confirmed,
        )

    return log


def counts():
    models = (Stint, PressureReading, TemperatureReading, TreadReading, SurfaceNote, Adjustment)
    return [model.objects.count() for model in models]


def test_everything_is_stored_at_the_stint(whole, fitted, now):
    stint = whole()

    assert counts() == [1, 2, 2, 2, 1, 2]
    warm = TemperatureReading.objects.get(zone="C")
    assert (warm.tire, warm.stint, warm.surface_c) == (fitted["rear"].tire, stint, 84.0)
    assert TreadReading.objects.get(zone="R2").taken_at == stint.ended_at
    assert SurfaceNote.objects.get().look == "hot_tear"
    assert set(Adjustment.objects.values_list("made_at", flat=True)) == {stint.started_at}


def test_sent_twice_it_is_stored_once(whole):
    first = whole()

    assert whole() == first
    assert counts() == [1, 2, 2, 2, 1, 2]


def test_what_is_measured_later_than_coming_in_is_dated_so(whole, now):
    whole(minutes_since_in=15.0)

    assert TreadReading.objects.get(zone="C").taken_at == now - timedelta(minutes=5)


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"measured": Measured(depth_mm={("rear", "L2"): 7.0})}, "rear_depth_L2"),
        ({"measured": Measured(surface_c={("front", "C"): 200.0})}, "front_c_C"),
        ({"measured": Measured(looks=[Look("front", "shiny")])}, "front_look"),
        ({"measured": Measured(changes=[Change("seat", None, 1.0, "mm")])}, "change_0_after"),
        ({"laps": 300}, "laps"),
    ],
)
def test_one_impossible_value_refuses_all_of_it_at_its_field(whole, changes, field):
    with pytest.raises((Invalid, Conflict)) as refused:
        whole(is_confirmed=True, **changes)

    assert refused.value.field == field
    assert counts() == [0, 0, 0, 0, 0, 0]


@pytest.mark.parametrize(
    ("changes", "field", "kind"),
    [
        ({"rear_in_kpa": 180.0}, "rear_in_kpa", "under what was set"),
        ({"targets_kpa": {"rear": 260.0}}, "rear_in_kpa", "far from target"),
        ({"lap_times_s": [120.0] * 8}, "laps", "lap count"),
        ({"lap_times_s": [190.0] * 9}, "lap_times", "laps too long"),
        ({"laps": 19}, "laps", "fast"),
        ({"measured": Measured(surface_c={("rear", "C"): 150.0})}, "rear_c_C", "too hot"),
    ],
)
def test_a_doubtful_value_is_asked_about_and_stored_once_confirmed(whole, changes, field, kind):
    with pytest.raises(Doubtful) as refused:
        whole(**changes)
    assert [(doubt.field, doubt.kind) for doubt in refused.value.doubts] == [(field, kind)]
    assert counts() == [0, 0, 0, 0, 0, 0]

    whole(is_confirmed=True, **changes)

    assert Stint.objects.count() == 1


def test_tread_that_grew_is_asked_about(whole, fitted, rider_person, now):
    record_tread(
        by=rider_person,
        at=now,
        tire=fitted["rear"].tire,
        zone="C",
        taken_at=now - timedelta(hours=1),
        depth_mm=3.0,
    )

    with pytest.raises(Doubtful) as refused:
        whole()

    assert [(doubt.field, doubt.kind, doubt.value) for doubt in refused.value.doubts] == [
        ("rear_depth_C", "grown", 5.4)
    ]


def test_a_long_stretch_is_asked_about(whole, now):
    with pytest.raises(Doubtful) as refused:
        whole(started_at=now - timedelta(minutes=110))

    assert [doubt.kind for doubt in refused.value.doubts] == ["long"]


@pytest.mark.parametrize(("laps", "is_asked"), [(9, False), (7, False), (4, True), (13, True)])
def test_laps_are_held_against_the_riders_own_pace_there(whole, now, laps, is_asked):
    whole(
        measured=Measured(),
        started_at=now - timedelta(minutes=120),
        ended_at=now - timedelta(minutes=100),
        key=uuid.uuid4(),
    )

    if is_asked:
        with pytest.raises(Doubtful) as refused:
            whole(measured=Measured(), laps=laps)
        assert [doubt.kind for doubt in refused.value.doubts] == ["pace"]
    else:
        assert whole(measured=Measured(), laps=laps).laps == laps


def test_a_stored_stint_is_asked_about_no_more(whole):
    stint = whole(is_confirmed=True, rear_in_kpa=180.0)

    assert whole(rear_in_kpa=180.0) == stint


def test_the_usual_lap_is_the_median_of_the_stints_there(stint, rider, layout, wheel_pair, now):
    # Eight laps in twenty minutes by the cast; with six and ten beside them the middle one is 150 seconds.
    for laps in (6, 10):
        Stint.objects.create(
            wheel_pair=wheel_pair,
            layout=layout,
            started_at=now - timedelta(days=laps),
            ended_at=now - timedelta(days=laps) + timedelta(minutes=20),
            laps=laps,
            distance_km=20.0,
            recorded_at=now,
        )

    assert usual_lap_s(rider, layout) == 150.0
    assert usual_lap_s(rider, None) is None


def test_who_has_not_ridden_there_has_no_usual_lap(other_rider, stint, layout):
    assert usual_lap_s(other_rider, layout) is None
