"""What all tests together tell: how far the sets of each spec ran, and which specs last longer."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from fleet.pages.asking import person_of, require_place
from fleet.trials.following import differences_between, lives_by_spec
from fleet.trials.queries import readable_of, trials_for


@require_safe
def specs(request: HttpRequest) -> HttpResponse:
    """Show the specs of every test whose readings somebody may read, compared pair by pair."""
    by = person_of(request)
    require_place(by, "trials")
    lives = lives_by_spec(readable_of(by, list(trials_for(by))))
    context = {"place": "trials", "lives": lives, "differences": differences_between(lives)}
    return render(request, "pages/trials/specs.html", context)
