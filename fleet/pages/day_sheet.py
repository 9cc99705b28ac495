"""The vendor's day sheet: on the screen, as CSV and as PDF."""

import csv
from datetime import date, timedelta
from decimal import Decimal

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from fleet.accounts.models import Organisation, Person
from fleet.accounts.policy import Right, organisations
from fleet.errors import Invalid, NotAllowed
from fleet.exchange.reading import escaped
from fleet.inventory.day_sheet import GONE_FOR_GOOD, KINDS, DaySheet, day_sheet
from fleet.pages.asking import person_of, require_place, typed
from fleet.pages.forms import FIRST_YEAR
from fleet.pages.printing.typesetting import pdf_answer
from fleet.pages.trailer import local_today, trailer_zone
from fleet.pages.units import clock, day_of

COLUMNS = (
    "time", "what", "tires", "spec", "label", "lot", "rider", "by", "unit_price", "amount", "currency", "note",
)  # fmt: skip


@require_safe
def sheet(request: HttpRequest) -> HttpResponse:
    """Show the day."""
    by = person_of(request)
    found, zone = _asked(request, by)
    context = {
        "place": "trailer",
        "sheet": found,
        "zone": zone,
        "kinds": KINDS,
        "counted": [(KINDS[kind], number) for kind, number in found.counts.items() if number],
        "gone": GONE_FOR_GOOD,
        "before": found.on - timedelta(days=1),
        "after": found.on + timedelta(days=1) if found.on < local_today(by, timezone.now()) else None,
    }
    return render(request, "pages/day_sheet.html", context)


@require_safe
def as_csv(request: HttpRequest) -> HttpResponse:
    """Send the day as CSV, cells made safe for spreadsheets."""
    found, zone = _asked(request, person_of(request))
    answer = HttpResponse(
        content_type="text/csv; charset=utf-8",
        headers={"Content-Disposition": f'attachment; filename="{_name(found)}.csv"'},
    )
    writer = csv.writer(answer)
    writer.writerow(COLUMNS)
    for line in found.lines:
        told = (line.label, line.lot.code if line.lot else "", line.rider, line.by)
        writer.writerow(
            [
                clock(line.at, zone),
                KINDS[line.kind],
                line.tires,
                escaped(str(line.spec)),
                *map(escaped, told),
                _money(line.unit_price),
                _money(line.amount),
                found.vendor.currency,
                escaped(line.note),
            ]
        )
    return answer


@require_safe
def as_pdf(request: HttpRequest) -> HttpResponse:
    """Send the day as one PDF, to keep or to hand to the office."""
    found, zone = _asked(request, person_of(request))
    rows = [
        [
            clock(line.at, zone),
            KINDS[line.kind],
            f"{line.tires} \N{MULTIPLICATION SIGN} {line.spec}" if line.tires > 1 else str(line.spec),
            " · ".join(
                part
                for part in (line.label or (line.lot.code if line.lot else ""), line.rider, line.note)
                if part
            ),
            _money(line.amount),
        ]
        for line in found.lines
    ]
    words = {
        "title": f"Day sheet, {found.vendor}, {day_of(found.on)}",
        "vendor": found.vendor.name,
        "on": day_of(found.on),
        "currency": found.vendor.currency,
        "rows": rows,
        "counts": [[KINDS[kind], str(number)] for kind, number in found.counts.items() if number],
        "total": _money(found.total),
        "unpriced": unpriced_in_words(found),
    }
    return pdf_answer("day_sheet", words, name=_name(found))


def unpriced_in_words(found: DaySheet) -> str:
    """Return what the total leaves out."""
    if not found.unpriced:
        return ""
    return f"{found.unpriced} sold without a price: the total leaves them out."


def _asked(request: HttpRequest, by: Person) -> tuple[DaySheet, str]:
    require_place(by, "trailer")
    vendors = list(organisations(by, Right.READ_STOCK).filter(is_vendor=True).order_by("name"))
    if not vendors:
        raise NotAllowed("Day sheets are kept by vendors: ask your organisation for the role.")
    vendor = _vendor(vendors, typed(request.GET, "vendor"))
    zone = trailer_zone(by, timezone.now())
    return day_sheet(
        by, vendor, on=_day(typed(request.GET, "date"), local_today(by, timezone.now())), zone=zone
    ), zone


def _vendor(vendors: list[Organisation], code: str) -> Organisation:
    found = [one for one in vendors if one.code == code] if code else vendors
    if not found:
        raise Invalid(
            "None of your vendors has this code: leave it out, or use "
            + " or ".join(v.code for v in vendors)
            + "."
        )
    return found[0]


def _day(text: str, today: date) -> date:
    if not text:
        return today
    try:
        found = date.fromisoformat(text)
    except ValueError:
        raise Invalid(f"“{text[:20]}” is no date: give one such as 2026-06-12.", field="date") from None
    if not FIRST_YEAR <= found.year <= today.year + 1:
        raise Invalid(
            f"No day sheet is kept for {found.year}: give a date from {FIRST_YEAR} to now.", field="date"
        )
    return found


def _money(amount: Decimal | None) -> str:
    return "" if amount is None else f"{amount:.2f}"


def _name(found: DaySheet) -> str:
    return f"day-{found.vendor.code}-{found.on.isoformat()}"
