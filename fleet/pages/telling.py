"""What a person is told and how: their choice, and what was told lately."""

from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from fleet.errors import Refusal
from fleet.notices.actions import choose_telling, mark_read
from fleet.notices.models import Kind
from fleet.notices.queries import Ways, notices_for, ways_of
from fleet.pages.asking import person_of
from fleet.pages.forms import PlainForm

SHOWN = 30


class TellingForm(PlainForm):
    """For each kind of thing, whether it stands on the page and whether an e-mail is sent."""

    def __init__(self, *args: Any, ways: dict[str, Ways], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for kind, way in ways.items():
            is_kept = kind == Kind.STOP
            self.take(
                **{
                    f"page-{kind}": forms.BooleanField(
                        label="On this page, always" if is_kept else "On this page",
                        required=False,
                        disabled=is_kept,
                        initial=way.on_page,
                    ),
                    f"mail-{kind}": forms.BooleanField(
                        label="By e-mail", required=False, initial=way.by_mail
                    ),
                }
            )

    def rows(self) -> list[tuple[str, forms.BoundField, forms.BoundField]]:
        """Return each kind in words with its two fields."""
        return [(str(kind.label), self[f"page-{kind.value}"], self[f"mail-{kind.value}"]) for kind in Kind]

    def given(self) -> dict[str, Ways]:
        """Return what was chosen."""
        said = self.cleaned_data
        return {kind: Ways(said[f"page-{kind}"], said[f"mail-{kind}"]) for kind in Kind.values}


@require_http_methods(["GET", "HEAD", "POST"])
def telling(request: HttpRequest) -> HttpResponse:
    """Show what was told, and choose what is told and how."""
    by = person_of(request)
    form = TellingForm(request.POST if request.method == "POST" else None, ways=ways_of(by))
    if request.method == "POST" and form.is_valid():
        try:
            choose_telling(by=by, ways=form.given())
        except Refusal as refusal:
            form.refuse(refusal)
        else:
            messages.success(request, "Your choice is kept. It counts for what is told from now on.")
            return redirect("telling")
    told = list(notices_for(by)[:SHOWN])
    context = {"form": form, "told": told, "unread": sum(one.read_at is None for one in told), "person": by}
    return render(request, "pages/telling.html", context, status=422 if form.errors else 200)


@require_POST
def all_read(request: HttpRequest) -> HttpResponse:
    """Mark everything told as read."""
    mark_read(by=person_of(request), at=timezone.now())
    return redirect("telling")
