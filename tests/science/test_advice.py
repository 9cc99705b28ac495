"""The next change by the trade's rules: what was felt and seen. Common practice, no published source."""

import numpy as np
import pytest

from fleet.running.models import FeelNote, SurfaceNote, Zone
from fleet.science.advice import (
    FELT_WITHOUT_A_RULE,
    RULES,
    SEEN_WITHOUT_A_RULE,
    suggest,
)
from fleet.science.advice.rules import FELT, PHASES, SEEN, ZONES
from tests.science.advised import STEP_KPA, codes, tire, unread

# Each rule: the notes that make it speak, and what is to be suggested. Common practice, no published source.
FELT_CASES = [
    ("flattens", [("flattens", "braking")], "pressure", "front", 1),
    ("moves", [("moves", "exit")], "pressure", "rear", 1),
    ("squirms_front", [("squirms", "entry")], "pressure", "front", 1),
    ("squirms_rear", [("squirms", "exit")], "pressure", "rear", 1),
    ("runs_wide", [("runs_wide", "")], "pressure", "rear", 1),
    ("harsh_front", [("harsh", "braking")], "pressure", "front", -1),
    ("harsh_rear", [("harsh", "exit")], "pressure", "rear", -1),
    ("squirms_unplaced", [("squirms", "mid")], "measure", "", 0),
    ("harsh_unplaced", [("harsh", "")], "measure", "", 0),
]
SEEN_CASES = [
    ("cord", ("cord", "C"), "stand down"),
    ("cut", ("cut", "L1"), "stand down"),
    ("blister", ("blister", "R2"), "stand down"),
    ("cold_tear", ("cold_tear", ""), "heat"),
    ("hot_tear", ("hot_tear", "R2"), "heat"),
    ("edge_step", ("edge_step", "R1"), "damping"),
]


@pytest.mark.parametrize(("code", "feels", "kind", "axle", "steps"), FELT_CASES)
def test_what_the_rider_felt_asks_for_one_step_at_one_end(code, feels, kind, axle, steps):
    found = suggest(tire(), tire(), feels)

    assert (found.followed, found.kind, found.axle, found.steps) == (code, kind, axle, steps)
    assert found.basis == "practice"
    assert np.isnan(found.start_kpa) if steps == 0 else found.start_kpa == 180.0 + steps * STEP_KPA


@pytest.mark.parametrize("end", ["front", "rear"])
@pytest.mark.parametrize(("code", "look", "kind"), SEEN_CASES)
def test_what_the_tread_shows_speaks_about_its_own_end(code, look, kind, end):
    tires = {"front": tire(), "rear": tire(), end: tire(looks=[look])}

    found = suggest(**tires)

    assert (found.followed, found.kind, found.axle, found.steps) == (code, kind, end, 0)


def test_debris_on_the_edge_speaks_only_of_a_pressure_over_its_target():
    over = suggest(tire(), tire(hot_kpa=226.0, looks=[("pick_up", "L2")]))
    on = suggest(tire(), tire(looks=[("pick_up", "L2")]))
    unknown = suggest(tire(), unread(looks=[("pick_up", "L2")]))
    centre = suggest(tire(), tire(hot_kpa=226.0, looks=[("pick_up", "C")]))

    assert codes(over) == ["hot_over_target", "pick_up_over"]
    assert (over.steps, over.confidence) == (-1, "firm")
    assert on.kind == "leave it"
    assert (unknown.kind, unknown.followed) == ("measure", "pick_up_unread")
    assert codes(centre) == ["hot_over_target"]


def test_the_cases_above_reach_every_rule():
    reached = {case[0] for case in (*FELT_CASES, *SEEN_CASES)} | {"pick_up_over", "pick_up_unread"}

    assert reached == {rule.code for rule in RULES}
    assert len(RULES) == len(reached)


def test_every_word_of_the_domain_has_a_rule_or_is_said_to_have_none():
    with_a_rule = {rule.word for rule in RULES}

    assert set(FeelNote.Feel.values) == FELT
    assert set(SurfaceNote.Look.values) == SEEN
    assert with_a_rule.isdisjoint({*FELT_WITHOUT_A_RULE, *SEEN_WITHOUT_A_RULE})
    assert set(FeelNote.Phase.values) == set(PHASES)
    assert set(Zone.values) == set(ZONES)


@pytest.mark.parametrize("word", FELT_WITHOUT_A_RULE)
def test_words_without_a_rule_change_nothing(word):
    found = suggest(tire(looks=[("even", "")]), tire(looks=[("rolled_grain", "C")]), [(word, "mid")])

    assert (found.kind, found.signs) == ("leave it", ())


def test_heat_and_damping_go_before_pressure_and_physics_before_all():
    feels = [("flattens", "braking")]
    torn = suggest(tire(looks=[("edge_step", ""), ("cold_tear", "")]), tire(), feels)
    hot = suggest(tire(hot_kpa=210.0, looks=[("cold_tear", "")]), tire(), feels)

    assert codes(torn) == ["cold_tear", "edge_step", "flattens"]
    assert torn.kind == "heat"
    assert (hot.kind, hot.basis) == ("pressure", "physics")


UNFOLLOWED = [word for word in sorted(SEEN) if word not in {*SEEN_WITHOUT_A_RULE, "pick_up"}]


@pytest.mark.parametrize("word", UNFOLLOWED)
@pytest.mark.parametrize("end", ["front", "rear"])
def test_what_a_tread_shows_is_told_even_where_something_else_goes_first(word, end):
    looks = {"front": (), "rear": (), end: [(word, "L1")]}
    rule = next(rule for rule in RULES if rule.word == word)

    by_physics = suggest(tire(240.0, looks=looks["front"]), tire(looks=looks["rear"]))
    by_state = suggest(
        tire(looks=looks["front"], must_stand_down=True),
        tire(looks=looks["rear"], must_stand_down=True),
    )

    assert (by_physics.followed == word) == (rule.kind == "stand down")
    if rule.kind != "stand down":
        assert by_physics.kind == "pressure"
        assert f"Also at the {end}: {rule.reason}" in by_physics.remarks
    assert f"Also at the {end}: {rule.reason}" in by_state.remarks


def test_a_blistered_tire_stays_in_whatever_its_pressure_asks_for():
    found = suggest(tire(hot_kpa=250.0), tire(hot_kpa=205.0, looks=[("blister", "R2")]))

    assert (found.kind, found.axle, found.followed, found.confidence) == (
        "stand down",
        "rear",
        "blister",
        "firm",
    )


def test_notes_that_contradict_a_hot_reading_ask_for_it_once_more():
    found = suggest(tire(), tire(hot_kpa=240.0), [("moves", "exit")])

    assert (found.kind, found.axle, found.steps) == ("measure", "rear", 0)
    assert "read it once more" in found.reason
    assert found.remarks == ("At the rear some signs ask for more air and some for less.",)


def test_notes_that_contradict_each_other_are_left_alone_or_ask_for_a_reading():
    feels = [("moves", "exit"), ("harsh", "exit")]

    read, not_read = suggest(tire(), tire(), feels), suggest(tire(), unread(), feels)

    assert (read.kind, read.steps) == ("leave it", 0)
    assert (not_read.kind, not_read.axle) == ("measure", "rear")


def test_a_contradiction_at_one_end_does_not_silence_the_other():
    found = suggest(tire(hot_kpa=228.0), tire(hot_kpa=250.0), [("moves", "exit")])

    assert (found.kind, found.axle, found.steps) == ("pressure", "front", -1)
    assert "At the rear some signs ask for more air and some for less." in found.remarks


def test_two_notes_that_agree_are_fair_where_one_is_weak():
    one = suggest(tire(), tire(), [("moves", "exit")])
    two = suggest(tire(), tire(), [("moves", "exit"), ("runs_wide", "exit")])

    assert (one.confidence, two.confidence) == ("weak", "fair")
    assert two.rests_on.startswith("2 ")


def test_a_note_about_the_other_end_does_not_agree():
    found = suggest(tire(), tire(), [("flattens", "braking"), ("moves", "exit")])

    assert (found.axle, found.confidence) == ("front", "weak")
    assert found.rests_on.startswith("1 ")


def test_without_a_start_pressure_it_is_asked_for():
    found = suggest(tire(), tire(start_kpa=np.nan), [("moves", "exit")])

    assert (found.kind, found.axle, found.followed) == ("measure", "rear", "moves")


def test_without_readings_and_signs_a_reading_is_asked_for_unless_all_is_well():
    assert (suggest(tire(), unread()).kind, suggest(tire(), unread()).axle) == ("measure", "rear")
    assert suggest(tire(), unread(), [("good", "")]).kind == "leave it"


def test_a_tire_that_must_stand_down_ends_it():
    found = suggest(tire(hot_kpa=250.0), tire(must_stand_down=True), [("flattens", "")])

    assert (found.kind, found.axle, found.steps, found.basis) == ("stand down", "rear", 0, "state")
    assert codes(found) == ["must_stand_down", "hot_over_target", "flattens"]


def test_a_tread_that_is_finished_goes_before_a_pressure_out_of_range():
    found = suggest(tire(start_kpa=260.0), tire(looks=[("cord", "C")]))

    assert (found.kind, found.axle) == ("stand down", "rear")
