"""The link to a tire somebody hands over: what it is and what it ran, and whether the reader takes it."""

from django.contrib import messages
from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from fleet.accounts.digests import digest_of
from fleet.garage.actions import open_garage
from fleet.inventory.actions import accept_tire, decline_tire
from fleet.inventory.ownership import standing_offer
from fleet.life.models import Assessment
from fleet.pages.asking import person_of


@login_not_required
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def take_over(request: HttpRequest, token: str) -> HttpResponse:
    """Show a tire to whoever has the link and is signed in, without its rider; take it over or say no."""
    at = timezone.now()
    offer = standing_offer(digest_of(token), at=at)
    if request.method == "POST":
        by = person_of(request)
        if request.POST.get("answer") == "no":
            decline_tire(by=by, at=at, token=token)
            messages.success(request, "You said no: nothing changes, and the link is over.")
            return redirect("home")
        open_garage(by=by)
        accept_tire(by=by, at=at, token=token)
        messages.success(
            request, "The tire is yours, with what it ran. What is left of it for you is computed in seconds."
        )
        return redirect("spare-tires")
    context: dict[str, object] = {"offer": offer, "today": at.date(), "is_own": False}
    if request.user.is_authenticated:
        context |= {
            "is_own": offer.giver.person_id == request.user.pk,
            "tire": offer.tire,
            "a": Assessment.objects.filter(is_newest=True, tire=offer.tire).first(),
        }
    return render(request, "pages/take_over.html", context)
