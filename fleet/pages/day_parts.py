"""The parts of a day that get start pressures of their own, chosen at the desk beside the draft."""

import uuid
from contextlib import suppress

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from fleet.accounts.policy import Right, may
from fleet.errors import Invalid
from fleet.events.actions import correct_day
from fleet.events.models import DayParts
from fleet.pages.asking import person_of, typed
from fleet.pages.desk import desk_day
from fleet.pressures.actions import draft_day
from fleet.pressures.errors import NoConditions


@require_POST
def day_parts(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    """Keep the choice, and compute the draft anew by it."""
    by = person_of(request)
    day = desk_day(by, pk)
    parts = typed(request.POST, "parts")
    if parts not in DayParts:
        raise Invalid("Choose morning, midday and afternoon, or every hour.", field="parts")
    correct_day(by=by, day=day, parts=parts)
    if may(by, Right.DRAFT_BULLETIN, day.event.organiser):
        with suppress(NoConditions):  # without any weather the draft follows once it is known
            draft_day(by=by, at=timezone.now(), day=day)
    return redirect(f"{reverse('day', args=[pk])}#draft")
