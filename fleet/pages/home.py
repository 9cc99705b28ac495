"""The start page, which sends a person to their work place, and the two addresses that say whether the service lives."""

from django.contrib.auth.decorators import login_not_required
from django.db import DatabaseError, connection
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from fleet.pages.asking import person_of, places_of


@require_safe
def home(request: HttpRequest) -> HttpResponse:
    """Send a person to the first of their places; somebody without one is told whom to ask."""
    places = places_of(person_of(request))
    if places:
        return redirect(places[0].route)
    return render(request, "pages/nowhere.html")


@login_not_required
@never_cache
@require_safe
def live(request: HttpRequest) -> HttpResponse:  # noqa: ARG001 - the answer is the same for everybody
    """Say that the web process answers."""
    return HttpResponse("live\n", content_type="text/plain")


@login_not_required
@never_cache
@require_safe
def ready(request: HttpRequest) -> HttpResponse:  # noqa: ARG001 - the answer is the same for everybody
    """Say whether the database answers too."""
    try:
        with connection.cursor() as cursor:
            cursor.execute("SELECT 1")
    except DatabaseError:
        return HttpResponse("the database does not answer\n", content_type="text/plain", status=503)
    return HttpResponse("ready\n", content_type="text/plain")
