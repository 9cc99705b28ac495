"""Suggest the next change to a bike's tires from hot readings, feel notes and surface notes: one at a time."""

from fleet.science.advice.rules import (
    CAUTIONS,
    FELT_WITHOUT_A_RULE,
    KINDS,
    RULES,
    SEEN_WITHOUT_A_RULE,
    Rule,
)
from fleet.science.advice.signs import Sign, Tire
from fleet.science.advice.suggestion import MOST_STEPS, Suggestion, suggest

__all__ = [
    "CAUTIONS",
    "FELT_WITHOUT_A_RULE",
    "KINDS",
    "MOST_STEPS",
    "RULES",
    "SEEN_WITHOUT_A_RULE",
    "Rule",
    "Sign",
    "Suggestion",
    "Tire",
    "suggest",
]
