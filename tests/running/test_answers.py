"""What riders say of advice, and of heat cycles that were none: facts of their own, voidable, nobody else's."""

import uuid

import pytest

from fleet.accounts.policy import SERVICE
from fleet.errors import Conflict, Invalid, NotFound
from fleet.garage.actions import add_wheel_pair
from fleet.inventory.actions import fit_tire
from fleet.life.histories import histories_of
from fleet.life.usage import cycles_of
from fleet.running.actions import answer_advice, correct_cycle, void_answer, void_cycle_correction, void_stint
from fleet.running.models import AdviceAnswer, CycleCorrection
from fleet.science.advice import KINDS

ADVICE = {"advised": "pressure", "axle": "rear", "change_kpa": -3.4}


def test_what_can_be_advised_is_what_the_science_advises():
    assert tuple(AdviceAnswer.Advised.values) == KINDS


def test_an_answer_keeps_what_was_advised_and_is_stored_once(stint, rider_person, now):
    key = uuid.uuid4()

    for _ in range(2):
        said = answer_advice(by=rider_person, at=now, stint=stint, answer="done", key=key, **ADVICE)

    assert AdviceAnswer.objects.get() == said
    assert (said.advised, said.axle, said.change_kpa) == ("pressure", "rear", -3.4)


def test_an_answer_is_the_riders_alone(stint, other_rider, fitter, now):
    for person in (other_rider.person, fitter):
        with pytest.raises(NotFound):
            answer_advice(by=person, at=now, stint=stint, answer="done", **ADVICE)


def test_an_unknown_answer_is_refused(stint, rider_person, now):
    with pytest.raises(Invalid):
        answer_advice(by=rider_person, at=now, stint=stint, answer="perhaps", **ADVICE)


def test_a_wrong_answer_is_voided(stint, rider_person, now):
    said = answer_advice(by=rider_person, at=now, stint=stint, answer="done", **ADVICE)

    void_answer(by=rider_person, at=now, answer=said, reason="tapped by mistake")

    assert not AdviceAnswer.objects.standing().exists()


def cycles(tire):
    [history] = histories_of([tire])
    return len(cycles_of(history))


def test_a_cycle_that_was_none_is_counted_no_more_until_that_is_voided(stint, fitted, rider_person, now):
    tire = fitted["rear"].tire
    assert cycles(tire) == 1

    said = correct_cycle(by=rider_person, at=now, tire=tire, stint=stint)
    assert (cycles(tire), cycles(fitted["front"].tire)) == (0, 1)

    void_cycle_correction(by=rider_person, at=now, correction=said, reason="it was warm after all")
    assert cycles(tire) == 1


def test_the_tire_is_assessed_anew(stint, fitted, rider_person, now):
    tire = fitted["rear"].tire
    tire.refresh_from_db()
    before = tire.revision

    correct_cycle(by=rider_person, at=now, tire=tire, stint=stint)

    tire.refresh_from_db()
    assert tire.revision > before


def test_it_is_said_once_of_a_tire_and_a_stint(stint, fitted, rider_person, now):
    correct_cycle(by=rider_person, at=now, tire=fitted["rear"].tire, stint=stint)

    with pytest.raises((Conflict, Invalid)):
        correct_cycle(by=rider_person, at=now, tire=fitted["rear"].tire, stint=stint)
    assert CycleCorrection.objects.count() == 1


def test_a_tire_that_did_not_run_the_stint_is_refused(stint, rider_person, rear_lot, bike, now, tarn):
    spare = add_wheel_pair(by=SERVICE, bike=bike, code="w-2", name="spare", is_in_use=False)
    other = fit_tire(by=SERVICE, at=now, wheel_pair=spare, axle="rear", fitted_at=now, lot=rear_lot).tire

    with pytest.raises(Invalid):
        correct_cycle(by=rider_person, at=now, tire=other, stint=stint)


def test_only_the_owner_says_so(stint, fitted, other_rider, fitter, now):
    for person in (other_rider.person, fitter):
        with pytest.raises(NotFound):
            correct_cycle(by=person, at=now, tire=fitted["rear"].tire, stint=stint)


def test_what_was_said_of_a_voided_stint_goes_with_it(stint, fitted, rider_person, now):
    answer_advice(by=rider_person, at=now, stint=stint, answer="done", **ADVICE)
    correct_cycle(by=rider_person, at=now, tire=fitted["rear"].tire, stint=stint)

    void_stint(by=rider_person, at=now, stint=stint, reason="the wrong day")

    assert not AdviceAnswer.objects.standing().exists()
    assert not CycleCorrection.objects.standing().exists()
