"""Where somebody is signed in, and the end of any of these visits."""

from allauth.usersessions.internal.flows.sessions import end_sessions
from allauth.usersessions.models import UserSession
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST, require_safe

from fleet.pages.asking import person_of, typed


@never_cache
@require_safe
def visits(request: HttpRequest) -> HttpResponse:
    """Show the browsers a person is signed in with, the present one first, then the latest."""
    standing = UserSession.objects.purge_and_list(person_of(request))
    standing.sort(key=lambda one: (not one.is_current(), -one.created_at.timestamp()))
    return render(request, "pages/visits.html", {"visits": standing})


@require_POST
def end(request: HttpRequest) -> HttpResponse:
    """End one other visit, or all others where none is named."""
    chosen = typed(request.POST, "visit")
    others = [
        one
        for one in UserSession.objects.filter(user=person_of(request))
        if not one.is_current() and chosen in {"", str(one.pk)}
    ]
    end_sessions(request, others)
    messages.success(request, f"Ended: {len(others)}." if others else "Nothing was left to end.")
    return redirect("visits")
