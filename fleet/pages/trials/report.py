"""The report of a test, on screen and as PDF, and what of it anybody with the link may read."""

import uuid
from typing import Any

from django import forms
from django.contrib import messages
from django.contrib.auth.decorators import login_not_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe

from fleet.errors import NotFound, Refusal
from fleet.pages.asking import person_of
from fleet.pages.forms import PlainForm
from fleet.pages.printing.trial_report import report_of, report_pdf
from fleet.pages.trials.reaching import about, test_run_by, test_seen
from fleet.trials.actions import publish_report, withdraw_report
from fleet.trials.models import Part, TireTest
from fleet.trials.queries import published


class ShownForm(PlainForm):
    """Which parts anybody with the link may read."""

    shown = forms.MultipleChoiceField(
        label="Show by a link", choices=Part.choices, widget=forms.CheckboxSelectMultiple, required=False
    )


@require_http_methods(["GET", "HEAD", "POST"])
def report(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    """Show the whole report, and let the tester choose what a link shows."""
    by = person_of(request)
    test = test_run_by(by, pk) if request.method == "POST" else test_seen(by, pk)
    initial = {"shown": test.shown or Part.values}
    form = ShownForm(request.POST if request.method == "POST" else None, initial=initial)
    if request.method == "POST" and form.is_valid():
        try:
            _share(request, test, form.cleaned_data["shown"])
        except Refusal as refusal:
            form.refuse(refusal)
        else:
            return redirect("test-report", test.pk)
    context: dict[str, Any] = about(request, test) | {"form": form}
    if context["is_open"]:
        context["report"] = report_of(test, Part.values, reader=by)
    if test.public_code:
        context["link"] = request.build_absolute_uri(reverse("public-report", args=[test.public_code]))
    return render(request, "pages/trials/report.html", context, status=422 if form.errors else 200)


@require_safe
def pdf(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    """Answer with the whole report as PDF."""
    by = person_of(request)
    test = test_seen(by, pk)
    if not about(request, test)["is_open"]:
        raise NotFound("The rider no longer shares what this report tells of: there is none to print.")
    return report_pdf(report_of(test, Part.values, reader=by), name=f"tire-test-{test.code}")


@login_not_required
@require_safe
def public(request: HttpRequest, public_code: str) -> HttpResponse:
    """Show the parts of a report that its tester chose, to anybody who has the link."""
    test = _published(public_code)
    return render(
        request,
        "pages/trials/public_report.html",
        {"report": report_of(test, test.shown, is_public=True), "test": test},
    )


@login_not_required
@require_safe
def public_pdf(_request: HttpRequest, public_code: str) -> HttpResponse:
    """Answer with those parts as PDF."""
    test = _published(public_code)
    return report_pdf(report_of(test, test.shown, is_public=True), name="tire-test")


def _published(public_code: str) -> TireTest:
    test = published(public_code)
    if test is None:
        raise Http404
    return test


def _share(request: HttpRequest, test: TireTest, shown: list[str]) -> None:
    by = person_of(request)
    if request.POST.get("do") == "withdraw":
        withdraw_report(by=by, test=test)
        messages.success(request, "The link leads nowhere now.")
        return
    publish_report(by=by, test=test, shown=shown)
    messages.success(
        request, "Anybody with the link reads the chosen parts; the rider's name is not among them."
    )
