"""Questions about values of a stint that look wrong, in the words and units of whoever typed them."""

import hashlib
from collections.abc import Iterable
from typing import Final

from fleet.pages.stint_form import StintForm
from fleet.pages.units import depth, pressure, temperature
from fleet.running.errors import Doubt
from fleet.running.lap_times import as_lap

QUESTIONS: Final = {
    "long": "{count} minutes on track at a stretch is long: are both times right?",
    "pace": "That is {time} a lap, and your usual lap here takes {other_time}: are the laps and the times right?",
    "fast": "That is {time} a lap, faster than motorcycles go there: are the laps and the times right?",
    "lap count": "{count} laps, but {other_count} lap times: which is right?",
    "laps too long": "The lap times add up to {time}, and the stint took {other_time}: are they all of it?",
    "far from target": "{where}: {pressure} is far from the hot target of {other_pressure}. Is it right, and read on your "
    "gauge? A tire that lost air must not go out before it was looked at.",
    "under what was set": "{where}: {typed} is less than the {typed_set} that was set, and without warmers air gains "
    "pressure on track: a leak, the wrong tire, or a slip of the pen?",
    "grown": "{where}: {depth} is more tread than was read there before: another zone, another tire?",
    "too hot": "{where}: {temperature} is hotter than treads get: is it right?",
}


def asked(doubts: Iterable[Doubt], form: StintForm) -> list[tuple[str, str]]:
    """Return each doubt as the id of its control and a question, each question once."""
    found = dict.fromkeys((form[doubt.field].id_for_label, _question(doubt, form)) for doubt in doubts)
    return list(found)


def digest(questions: list[tuple[str, str]]) -> str:
    """Return a mark of some questions: who confirmed these did not confirm others."""
    return hashlib.sha256(repr(sorted(questions)).encode()).hexdigest()[:16] if questions else ""


def _question(doubt: Doubt, form: StintForm) -> str:
    who, said = form.person, form.cleaned_data
    value, against = doubt.value, doubt.against or 0.0
    axle = doubt.field.partition("_")[0]
    return QUESTIONS[doubt.kind].format(
        where=str(form.fields[doubt.field].label).rsplit(",", 1)[0],
        count=f"{value:.0f}",
        other_count=f"{against:.0f}",
        time=_short(value),
        other_time=_short(against),
        pressure=pressure(value, who),
        other_pressure=pressure(against, who),
        typed=pressure(said.get(f"{axle}_in_kpa"), who),
        typed_set=pressure(said.get(f"{axle}_set_kpa"), who),
        depth=depth(value, who),
        temperature=temperature(value, who),
    )


def _short(seconds: float) -> str:
    return as_lap(round(seconds)).removesuffix(".0")
