"""What was done to what somebody owns: who, when, for whom, before and after."""

import re
import uuid
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final
from urllib.parse import urlencode

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.dateparse import parse_datetime
from django.views.decorators.http import require_safe

from fleet.accounts.models import Person, What
from fleet.errors import Invalid
from fleet.history.lines import RECORDED, VOIDED, Line
from fleet.history.names import id_in, names_in, refers
from fleet.history.queries import Mark, Wanted, history_for
from fleet.pages.asking import person_of
from fleet.pages.forms import PlainForm
from fleet.pages.units import (
    SPACE,
    day_and_clock,
    depth,
    distance,
    hectopascal,
    in_words,
    pressure,
    temperature,
)

ROWS: Final = 30
DONE: Final = {RECORDED: "Recorded", VOIDED: "Voided", **dict(What.choices)}
SIGNS: Final = {"_mm": "mm", "_deg": "°", "_in": "in", "_s": "s", "_m": "m"}
_MOMENT: Final = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d")
_CODE: Final = re.compile(r"[a-z]+(_[a-z]+)+")


@dataclass(frozen=True)
class Told:
    """One line as a person reads it; each value with its name, and what it was before where it changed."""

    line: Line
    title: str
    name: str
    values: list[tuple[str, str, str]]

    @property
    def is_short(self) -> bool:
        """Whether the values stand in the list itself: what changed is read there, what was made is opened."""
        return self.line.what not in {RECORDED, What.MADE}


class WantedForm(PlainForm):
    """What of the history is shown."""

    what = forms.ChoiceField(label="Show", required=False, choices=[("", "Everything"), *DONE.items()])
    about = forms.UUIDField(required=False, widget=forms.HiddenInput, label="")


@require_safe
def history(request: HttpRequest) -> HttpResponse:
    """Show a page of the history, the newest first."""
    by = person_of(request)
    form = WantedForm(request.GET)
    if not form.is_valid():
        raise Invalid("There is nothing like that to show: open the history again and choose from its list.")
    what, about = form.cleaned_data["what"], form.cleaned_data["about"]
    after = mark_of(request.GET.get("after", ""))
    lines, mark = history_for(by, wanted=Wanted(what=what, about=about, after=after), rows=ROWS)
    names = names_in(lines)
    kept = {name: value for name, value in (("what", what), ("about", about)) if value}
    context = {
        "form": form,
        "about": about,
        "of": names.get(about, "one thing") if about else "",
        "told": [told(line, names, by) for line in lines],
        "is_first": after is None,
        "newest": urlencode(kept),
        "older": urlencode(kept | {"after": f"{mark.at.isoformat()}~{mark.pk}~{mark.what}"}) if mark else "",
    }
    return render(request, "pages/history.html", context)


def mark_of(text: str) -> Mark | None:
    """Return the mark an address carries; one that was tampered with is refused."""
    if not text:
        return None
    try:
        at_text, row, what = text.split("~")
        at = parse_datetime(at_text)
        mark = Mark(at, uuid.UUID(row), what) if at and at.utcoffset() is not None and what in DONE else None
    except ValueError:
        mark = None
    if mark is None:
        raise Invalid(
            "This address of the history is cut off or changed: open the history from its beginning."
        )
    return mark


def told(line: Line, names: dict[uuid.UUID, str], by: Person) -> Told:
    """Return a line in the words and units of its reader."""
    title = f"{in_words(line.noun).capitalize()}: {DONE[line.what].lower()}"
    return Told(line, title, _name(line, names), list(_values(line, names, by)))


def _name(line: Line, names: dict[uuid.UUID, str]) -> str:
    """Return the name of what a line is about, or of the first thing with a name that it mentions."""
    mentioned = (
        id_in(line, name, value) for values in (line.after, line.before) for name, value in values.items()
    )
    found = (names[one] for one in (line.row, *mentioned) if one in names)
    return next(found, "")


def _values(line: Line, names: dict[uuid.UUID, str], by: Person) -> Iterator[tuple[str, str, str]]:
    for name in dict.fromkeys((*line.before, *line.after)):
        before, after = (
            _said(line, name, values[name], names, by) if name in values else ""
            for values in (line.before, line.after)
        )
        if before or after:
            yield name_in_words(name), before, after


def name_in_words(name: str) -> str:
    """Return a column's name without its unit, which stands beside the value."""
    for ending in ("_kpa", "_km", "_c", *SIGNS):
        name = name.removesuffix(ending)
    return in_words(name).capitalize()


def _said(line: Line, name: str, value: Any, names: dict[uuid.UUID, str], by: Person) -> str:
    """Return a value in words and in its reader's units; an id without a name says nothing to a person."""
    if refers(line, name) and value:
        found = id_in(line, name, value)
        return names.get(found, "") if found else ""
    if value is None or value in ("", []):
        return "nothing"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list):
        return ", ".join(f"{one:g}" if isinstance(one, float) else in_words(str(one)) for one in value)
    if isinstance(value, int | float):
        return _figure(name, value, by)
    return _words(value)


def _figure(name: str, value: float, by: Person) -> str:
    if name == "barometer_kpa":
        return hectopascal(value)
    if name.endswith("_kpa"):
        return pressure(value, by)
    if name.endswith("_c"):
        return temperature(value, by)
    if name == "depth_mm":
        return depth(value, by)
    if name.endswith("_km"):
        return distance(value, by)
    sign = next((sign for ending, sign in SIGNS.items() if name.endswith(ending)), "")
    return f"{value:g}{'' if sign in {'', '°'} else SPACE}{sign}"


def _words(value: Any) -> str:
    text = str(value)
    moment = value if isinstance(value, datetime) else parse_datetime(text) if _MOMENT.match(text) else None
    if moment is not None and moment.utcoffset() is not None:
        return f"{day_and_clock(moment, 'UTC')}{SPACE}UTC"
    return in_words(text) if _CODE.fullmatch(text) else text
