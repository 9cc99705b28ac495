"""Writes about tire tests, a file a noun."""

from fleet.trials.actions.measuring import AxleLengths, measure
from fleet.trials.actions.planning import correct_test, end_test, judge_test, plan_test
from fleet.trials.actions.publishing import publish_report, withdraw_report
from fleet.trials.actions.runs import add_run, void_run
from fleet.trials.actions.steps import add_step, correct_step, move_step

__all__ = [
    "AxleLengths",
    "add_run",
    "add_step",
    "correct_step",
    "correct_test",
    "end_test",
    "judge_test",
    "measure",
    "move_step",
    "plan_test",
    "publish_report",
    "void_run",
    "withdraw_report",
]
