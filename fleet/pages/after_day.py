"""After the day: what was promised against what was read, whose tires did not last, and what each spec did."""

import uuid
from dataclasses import dataclass
from datetime import datetime, time, timedelta
from zoneinfo import ZoneInfo

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from fleet.accounts.models import Person
from fleet.accounts.policy import Right, require
from fleet.events.models import Day, Entry
from fleet.events.queries import entrants_for, entries_for
from fleet.life.models import Flag, State
from fleet.pages.asking import person_of
from fleet.pages.desk import desk_day, is_over
from fleet.pages.printing.papers import BULLETIN_PAPERS
from fleet.pages.printing.tire_use import half_in_words, lasting_in_words, report_of
from fleet.pages.printing.typesetting import pdf_answer
from fleet.pressures.afterwards import Promise, promises_kept, tires_used
from fleet.pressures.tire_use import Lasting, SpecUse, lasting_of, ridden_on, use_by_spec


@dataclass(frozen=True)
class WornOut:
    """An entrant's tire that came to its end on the day, with the chance it was given to last it."""

    entry: Entry
    flag: Flag
    chance: float | None = None


@dataclass(frozen=True)
class LookedBack:
    """A day looked back on, as far as somebody may know."""

    promises: list[Promise]
    worn_out: list[WornOut]
    lasting: list[Lasting]
    specs: list[SpecUse]


@require_safe
def after_day(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    """Show the day looked back on, to read and to print."""
    by, at = person_of(request), timezone.now()
    day = _day(by, pk)
    found = looked_back(by, day, at=at)
    context = {
        "place": "desk",
        "day": day,
        "zone": day.layout.track.time_zone,
        "found": found,
        "is_over": is_over(day, at),
        "lasting": [lasting_in_words(one) for one in found.lasting],
        "specs": [(one, half_in_words(one.worn, by), half_in_words(one.expected, by)) for one in found.specs],
        "readings": sum(len(one.off_kpa) for one in found.promises),
        "otherwise": sum(one.otherwise for one in found.promises),
        "tires": sum(one.entered for one in found.specs),
    }
    return render(request, "pages/after_day.html", context)


@require_safe
def after_day_pdf(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    """Answer with the report of tire use by spec as PDF; it names no rider, so that it can be handed on."""
    by, at = person_of(request), timezone.now()
    day = _day(by, pk)
    paper = BULLETIN_PAPERS.chosen(request)
    found = looked_back(by, day, at=at)
    words = report_of(day, found.specs, found.lasting, reader=by, made_at=at)
    return pdf_answer("tire_use", words | {"paper": paper}, name=f"tires-{day.date:%Y-%m-%d}")


def looked_back(by: Person, day: Day, *, at: datetime) -> LookedBack:
    """Return the day looked back on: what entries and riders share, and no more."""
    entries = list(entries_for(by).filter(day=day, rider__in=entrants_for(by, on=at.date())))
    flags = worn_out(entries, day)
    days = ridden_on(day, entries)
    chances = {one.tire.pk: one.chance for one in days}
    by_rider = {entry.rider_id: entry for entry in entries}
    ended = {flag.tire_id for flag in flags}
    promises = promises_kept(by, day, at=at)
    return LookedBack(
        promises,
        [WornOut(by_rider[flag.tire.owner_id], flag, chances.get(flag.tire_id)) for flag in flags],
        lasting_of(days, ended),
        use_by_spec(tires_used(day), days, promises, ended),
    )


def worn_out(entries: list[Entry], day: Day) -> list[Flag]:
    """Return the flags of entrants' tires that had to stand down on the day, in the order it happened."""
    begins = datetime.combine(day.date, time(), tzinfo=ZoneInfo(day.layout.track.time_zone))
    flags = Flag.objects.filter(
        tire__owner__in=[entry.rider_id for entry in entries],
        state=State.STAND_DOWN,
        raised_at__gte=begins,
        raised_at__lt=begins + timedelta(days=1),
    )
    return list(flags.select_related("tire__spec__line").order_by("raised_at", "id"))


def _day(by: Person, pk: uuid.UUID) -> Day:
    day = desk_day(by, pk)
    require(by, Right.READ_ENTRANT_PRESSURES, day.event.organiser)
    return day
