"""Finding whose wheels come in: by the rider's number of today, code or name, or by the label of a tire."""

from datetime import datetime

from django.db.models import Q
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from fleet.accounts.models import Person
from fleet.events.models import Entry
from fleet.garage.models import Rider
from fleet.inventory.models import Tire
from fleet.inventory.queries import open_tickets, riders_served
from fleet.life.queries import SetView, sets_of, tires_read_off
from fleet.pages.asking import person_of, require_place, typed
from fleet.pages.trailer import local_today

MOST_FOUND = 12


@require_safe
def find(request: HttpRequest) -> HttpResponse:
    """Show the wheel pairs of the riders whose number, code or name was typed, or whose tire's label was."""
    by = person_of(request)
    require_place(by, "trailer")
    who = typed(request.GET, "who")
    at = timezone.now()
    tires = list(tires_read_off(by, who, on=at.date())) if who else []
    numbers = _numbers(by, who, at) if who and not tires else {}
    found = [tire.owner for tire in tires] or (_riders(by, who, numbers) if who else [])
    views = sets_of(found, only_in_use=False) if found else []
    here = {ticket.wheel_pair_id: ticket for ticket in open_tickets(by)} if views else {}
    on_wheels = {mounted.fitting.tire_id for view in views for mounted in view.tires.values()}
    context = {
        "place": "trailer",
        "who": who,
        "found": [
            (view, here.get(view.wheel_pair.pk), numbers.get(view.wheel_pair.bike_id, ""))
            for view in sorted(views, key=lambda view: _rank(view, tires, numbers))
        ],
        "tires": tires,
        "lying_about": [tire for tire in tires if tire.pk not in on_wheels],
        "without_wheels": [r for r in found if r.pk not in {v.wheel_pair.bike.rider_id for v in views}],
        "is_cut": len(found) == MOST_FOUND,
    }
    return render(request, "pages/find.html", context)


def _numbers(by: Person, who: str, at: datetime) -> dict[object, str]:
    """Return by bike the number typed, where it rides under it today."""
    entries = Entry.objects.filter(
        rider__in=riders_served(by).values("pk"), day__date=local_today(by, at), number__iexact=who
    )
    return dict(entries.values_list("bike", "number"))


def _riders(by: Person, who: str, numbers: dict[object, str]) -> list[Rider]:
    is_meant = Q(code__iexact=who) | Q(name__icontains=who) | Q(bikes__in=list(numbers))
    return list(riders_served(by).filter(is_meant).distinct().order_by("name", "pk")[:MOST_FOUND])


def _rank(view: SetView, tires: list[Tire], numbers: dict[object, str]) -> tuple[bool, bool]:
    """Put the wheels with the tire that was read first, then the bike with the number typed, then what is on the bike."""
    carries = any(mounted.fitting.tire in tires for mounted in view.tires.values())
    return not (carries or view.wheel_pair.bike_id in numbers), not view.wheel_pair.is_in_use
