"""A rider's tires that are on no wheel: what state they are in, which are offered to somebody, and which were given away."""

import uuid
from datetime import datetime
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from fleet.accounts.models import Person
from fleet.errors import Conflict, NotFound
from fleet.garage.models import Rider
from fleet.inventory.actions import offer_tire, withdraw_offer
from fleet.inventory.models import Hold, Tire
from fleet.inventory.ownership import given_by, open_offers
from fleet.inventory.queries import spare_tires
from fleet.inventory.recalls import recalls_of
from fleet.life.models import Assessment
from fleet.pages.asking import person_of
from fleet.pages.garage import rider_of
from fleet.pages.printing.codes import as_image, drawn, origin


@require_safe
def spare(request: HttpRequest) -> HttpResponse:
    """Show a rider's tires that are on no wheel."""
    by, at = person_of(request), timezone.now()
    rider = rider_of(by)
    context = {
        "place": "garage",
        "rows": _rows(by, rider, at),
        "given": list(given_by(by)),
        "today": at.date(),
    }
    return render(request, "pages/spare.html", context)


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def hand_over(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    """Say what handing a tire over means, and make the link; it is shown this once."""
    by, at = person_of(request), timezone.now()
    rider = rider_of(by)
    row = Tire.objects.filter(pk=pk, owner=rider).select_related("spec__line", "owner").first()
    if row is None:
        raise NotFound("There is no such tire of yours: choose one in your garage.")
    context: dict[str, Any] = {"place": "garage", "tire": row, "today": at.date()}
    status = 200
    if request.method == "POST":
        try:
            offer, token = offer_tire(by=by, at=at, tire=row)
        except Conflict as refusal:
            context |= {"refusal": refusal.sentence}
            status = 422
        else:
            link = f"{origin(request)}{reverse('take-over', args=[token])}"
            context |= {"offer": offer, "link": link, "image": as_image(drawn(link))}
    return render(request, "pages/hand_over.html", context, status=status)


@require_POST
def withdraw(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    """Take a link back that was not answered yet."""
    by, at = person_of(request), timezone.now()
    rider_of(by)
    offer = open_offers(by, at=at).filter(pk=pk).first()
    if offer is None:
        raise NotFound("There is no such link of yours: it may have been answered, or be over.")
    withdraw_offer(by=by, at=at, offer=offer)
    messages.success(request, "The link is taken back: the tire stays yours.")
    return redirect("spare-tires")


def _rows(by: Person, rider: Rider, at: datetime) -> list[dict[str, Any]]:
    tires = list(spare_tires(rider))
    ids = [tire.pk for tire in tires]
    newest = {one.tire_id: one for one in Assessment.objects.filter(is_newest=True, tire__in=ids)}
    held = set(
        Hold.objects.filter(tire__in=ids, lifted_at=None, voided_at=None).values_list("tire", flat=True)
    )
    recalled, offers = recalls_of(ids), {offer.tire_id: offer for offer in open_offers(by, at=at)}
    return [
        {
            "tire": tire,
            "a": newest.get(tire.pk),
            "is_stopped": tire.pk in held or tire.pk in recalled,
            "offer": offers.get(tire.pk),
        }
        for tire in tires
    ]
