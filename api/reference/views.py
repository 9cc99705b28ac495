"""The pages: what holds for the whole API, and one page for each noun."""

from django.conf import settings
from django.contrib.auth.decorators import login_not_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from api.batches import MOST_ITEMS
from api.pagination import MOST_ROWS, PAGE_ROWS
from api.reference.document import nouns
from api.units import OTHERS
from api.v1.problems import kinds_of_refusals
from fleet.accounts.models import Scope


@login_not_required
@require_safe
def overview(request: HttpRequest) -> HttpResponse:
    """Show how to get in, what holds for every request, and the nouns."""
    context = {
        "nouns": nouns().values(),
        "scopes": list(Scope),
        "units": OTHERS.items(),
        "kinds": kinds_of_refusals(),
        "limit": settings.API_REQUESTS_PER_MINUTE,
        "most_items": MOST_ITEMS,
        "page_rows": PAGE_ROWS,
        "most_rows": MOST_ROWS,
    }
    return render(request, "api/overview.html", context)


@login_not_required
@require_safe
def noun(request: HttpRequest, name: str) -> HttpResponse:
    """Show all that can be asked about one noun."""
    found = nouns().get(name)
    if found is None:
        raise Http404
    return render(request, "api/noun.html", {"noun": found})
