"""Entering a recall notice: what its paper says, in the words of the paper."""

import uuid
from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from fleet.accounts.models import Person
from fleet.accounts.policy import Right, organisations
from fleet.catalogue.models import Axle, TireLine, TireSpec
from fleet.errors import NotAllowed, Refusal
from fleet.inventory.actions import enter_recall
from fleet.pages.asking import person_of
from fleet.pages.forms import KeyField, PlainForm
from fleet.pages.recalls import require_recalls


class EntryForm(PlainForm):
    """What a recall notice says."""

    known_as = {"spec": "which", "line": "which", "axle": "which"}
    field_order = (
        "entered_for",
        "reference",
        "issued_by",
        "published_on",
        "which",
        "first_code",
        "last_code",
        "plant",
        "what_to_do",
    )
    reference = forms.CharField(
        label="Number of the notice", max_length=40, help_text="As its issuer writes it."
    )
    issued_by = forms.CharField(label="Issued by", max_length=80, help_text="The maker or the authority.")
    published_on = forms.DateField(
        label="Published on",
        widget=forms.DateInput(attrs={"type": "date"}),
        error_messages={"invalid": "This is no date: give one such as 2026-06-12."},
    )
    first_code = forms.CharField(
        label="First date code",
        max_length=4,
        help_text="Four digits, week and year, such as 0826.",
        widget=forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off", "size": "5"}),
    )
    last_code = forms.CharField(
        label="Last date code",
        max_length=4,
        help_text="The same as the first for one week.",
        widget=forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off", "size": "5"}),
    )
    plant = forms.CharField(
        label="Plant",
        max_length=3,
        required=False,
        help_text="The first two or three symbols of the number on the sidewall; empty for every plant.",
        widget=forms.TextInput(attrs={"autocomplete": "off", "autocapitalize": "characters", "size": "5"}),
    )
    what_to_do = forms.CharField(
        label="What riders should do",
        max_length=160,
        help_text="Riders read this sentence, such as: Bring the wheel to your vendor, the tire is exchanged.",
    )
    key = KeyField()

    def __init__(self, *args: Any, by: Person, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        own = organisations(by, Right.RECALL).order_by("name")
        self.take(
            entered_for=forms.ModelChoiceField(
                label="For", queryset=own, empty_label=None, help_text="Whose stock and riders it binds."
            ),
            which=forms.ChoiceField(label="Which tires", choices=_choices()),
        )
        if len(own) == 1:
            self.fields["entered_for"].widget = forms.HiddenInput()
            self.fields["entered_for"].label = ""
            self.initial.setdefault("entered_for", own[0].pk)
        self.order_fields(self.field_order)

    def named(self) -> dict[str, Any]:
        """Return the spec, or the line and its axle, that was chosen."""
        kind, pk, axle = self.cleaned_data["which"].split("/")
        if kind == "spec":
            return {"spec": TireSpec.objects.get(pk=uuid.UUID(pk))}
        return {"line": TireLine.objects.get(pk=uuid.UUID(pk)), "axle": axle}


@require_http_methods(["GET", "HEAD", "POST"])
def enter(request: HttpRequest) -> HttpResponse:
    """Show the form of a notice, and store what it says."""
    by = person_of(request)
    place = require_recalls(by)
    if not organisations(by, Right.RECALL).exists():
        raise NotAllowed(
            "Notices are entered by stock managers, inspectors and directors: ask one of yours to enter it."
        )
    form = EntryForm(request.POST if request.method == "POST" else None, by=by)
    if request.method == "POST" and form.is_valid():
        given = {name: value for name, value in form.cleaned_data.items() if name != "which"}
        try:
            notice = enter_recall(by=by, at=timezone.now(), **given, **form.named())
        except Refusal as refusal:
            form.refuse(refusal)
        else:
            messages.success(
                request,
                f"{notice} is in force: nothing it touches is fitted or sold, and riders with an account are told.",
            )
            return redirect("recall", notice.pk)
    context = {"place": place, "form": form}
    return render(request, "pages/enter_recall.html", context, status=422 if form.errors else 200)


def _choices() -> list[Any]:
    specs: dict[uuid.UUID, list[tuple[str, str]]] = {}
    for spec in TireSpec.objects.select_related("line").order_by("axle", "size", "compound", "pk"):
        label = f"{spec.get_axle_display()}: {spec}"
        specs.setdefault(spec.line_id, []).append((f"spec/{spec.pk}/", label))
    found: list[Any] = [("", "Choose one")]
    for line in TireLine.objects.order_by("maker", "name", "pk"):
        whole = [(f"line/{line.pk}/", f"All of {line}")]
        whole += [(f"line/{line.pk}/{axle.value}", f"All {axle.value} tires of {line}") for axle in Axle]
        found.append((str(line), whole + specs.get(line.pk, [])))
    return found
