"""A rider's times on track for their own calendar: the address is made, ended, and read by programs."""

from datetime import timedelta
from typing import Final

from django.contrib import messages
from django.contrib.auth.decorators import login_not_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from fleet.events.actions import close_calendar, open_calendar
from fleet.events.calendar import calendar_of
from fleet.events.queries import calendar_entries, calendar_link, rider_of_calendar
from fleet.pages.asking import person_of
from fleet.pages.garage import rider_of
from fleet.pages.printing.codes import origin

KEPT_FOR: Final = timedelta(minutes=5)


@login_not_required
@require_safe
def feed(request: HttpRequest, token: str) -> HttpResponse:
    """Answer a calendar program that knows the secret address."""
    rider = rider_of_calendar(token)
    if rider is None:
        raise Http404
    at = timezone.now()
    address = origin(request) + reverse("bulletin", args=["CODE"]).replace("CODE", "{}")
    return HttpResponse(
        calendar_of(rider, calendar_entries(rider, at=at), at=at, address=address),
        content_type="text/calendar; charset=utf-8",
        headers={
            "Content-Disposition": 'inline; filename="times-on-track.ics"',
            "Cache-Control": f"private, max-age={KEPT_FOR.seconds}",
        },
    )


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def calendar(request: HttpRequest) -> HttpResponse:
    """Say what the address is for; make one, which is shown this once."""
    by, at = person_of(request), timezone.now()
    rider = rider_of(by)
    address = ""
    if request.method == "POST":
        _, token = open_calendar(by=by, at=at, rider=rider)
        address = origin(request) + reverse("calendar-feed", args=[token])
    context = {"place": "garage", "link": calendar_link(rider), "address": address}
    return render(request, "pages/calendar.html", context)


@require_POST
def end_calendar(request: HttpRequest) -> HttpResponse:
    """End the address."""
    by = person_of(request)
    close_calendar(by=by, at=timezone.now(), rider=rider_of(by))
    messages.success(request, "The address is ended: calendars that read it find nothing there any more.")
    return redirect("calendar")
