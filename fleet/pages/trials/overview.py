"""The trials' start page: planned, running and finished tire tests."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from fleet.pages.asking import person_of, require_place
from fleet.trials.queries import stages_of, trials_for


@require_safe
def overview(request: HttpRequest) -> HttpResponse:
    """List the tests somebody may see by how far they are."""
    by = person_of(request)
    require_place(by, "trials")
    tests = list(trials_for(by))
    staged = stages_of(tests)
    context = {
        "place": "trials",
        "groups": [
            (heading, words, [test for test in tests if staged[test.pk] == stage])
            for stage, heading, words in (
                ("running", "Running", "No test is running: it begins with its first run."),
                ("planned", "Planned", "No test is planned."),
                ("followed", "Judged, set still followed", ""),
                ("finished", "Finished", ""),
            )
        ],
        "has_tests": bool(tests),
    }
    return render(request, "pages/trials/overview.html", context)
