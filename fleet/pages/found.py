"""Where the code on a label leads: those who may see the tire to their page of it, everybody else to who fitted it."""

from datetime import datetime

from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from fleet.accounts.models import Person
from fleet.accounts.policy import Right, organisations
from fleet.events.queries import entries_for
from fleet.inventory.models import JobTicket, Tire
from fleet.inventory.queries import last_fitted_by, tickets_for, tire_marked
from fleet.life.queries import tires_for, tires_to_label, tires_told_whole


@login_not_required
@never_cache
@require_safe
def found(request: HttpRequest, mark: str) -> HttpResponse:
    """Lead somebody who may see the tire to it; tell everybody else whom to call, and the same page to each of them."""
    tire = tire_marked(mark)
    if tire is not None and isinstance(request.user, Person):
        way = way_to(tire, request.user, at=timezone.now())
        if way is not None:
            return redirect(way)
    vendor = last_fitted_by(tire) if tire else None
    context = {"vendor": vendor, "is_for_everybody": True}
    answer = render(request, "pages/found.html", context, status=200 if vendor else 404)
    answer["X-Robots-Tag"] = "noindex"
    return answer


def way_to(tire: Tire, by: Person, *, at: datetime) -> str | None:
    """Return the address of a tire for its owner, the trailer, or the gate; nothing for whoever may not see it."""
    on = at.date()
    if tire.owner.person_id == by.pk:
        return reverse("tire", args=[tire.pk])
    if tires_to_label(by, on=on).filter(pk=tire.pk).exists():
        ticket = _open_ticket(tire, by)
        return reverse("ticket", args=[ticket.pk]) if ticket else reverse("tire", args=[tire.pk])
    if not tires_for(by, on=on).filter(pk=tire.pk).exists():
        return None
    return _gate_of(tire, by, at) or (
        reverse("tire", args=[tire.pk]) if tires_told_whole(by, on=on).filter(pk=tire.pk).exists() else None
    )


def _open_ticket(tire: Tire, by: Person) -> JobTicket | None:
    return (
        tickets_for(by)
        .filter(
            wheel_pair__fittings__tire=tire,
            wheel_pair__fittings__removed_at__isnull=True,
            wheel_pair__fittings__voided_at__isnull=True,
        )
        .exclude(state=JobTicket.State.COLLECTED)
        .first()
    )


def _gate_of(tire: Tire, by: Person, at: datetime) -> str | None:
    """Return the gate of the day the tire's rider rides next, or rode last, where somebody may stand there."""
    entries = entries_for(by).filter(
        rider=tire.owner, day__event__organiser__in=organisations(by, Right.READ_ENTRANTS)
    )
    entry = entries.filter(day__date__gte=at.date()).first() or entries.order_by("-day__date", "id").first()
    return f"{reverse('gate', args=[entry.day_id])}?number={entry.number}" if entry else None
