"""Reference notes of a test's organisation: written down beside the start pressures, corrected and taken out."""

import uuid
from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from fleet.accounts.models import Person
from fleet.catalogue.actions import correct_note, drop_note, gather_note
from fleet.catalogue.models import GAUGE_KPA, PressureSpec, ReferenceNote
from fleet.errors import NotFound, Refusal
from fleet.pages.asking import person_of, typed
from fleet.pages.forms import KeyField, MeasuredField, PlainForm
from fleet.pages.trials.reaching import about, test_run_by
from fleet.pages.units import pressure_unit, temperature_unit
from fleet.trials.models import Side, TireTest


class NoteForm(PlainForm):
    """A pressure somebody reported elsewhere for one of the candidate's tires, with the conditions it was used in."""

    def __init__(
        self, *args: Any, test: TireTest, person: Person, is_new: bool = True, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.specs = {str(spec.pk): spec for spec in test.specs(Side.CANDIDATE.value).values()}
        heat = temperature_unit(person)
        low, high = (float(limit.limit_value) for limit in GAUGE_KPA)
        self.take(
            spec=forms.ChoiceField(
                label="For which tire", widget=forms.RadioSelect,
                choices=[(pk, f"{spec.get_axle_display()}: {spec}") for pk, spec in self.specs.items()],
            ),
            pressure_kpa=MeasuredField(
                unit=pressure_unit(person), low=low, high=high, label="Pressure reported"
            ),
            basis=forms.ChoiceField(
                label="Read when", widget=forms.RadioSelect, choices=PressureSpec.Basis.choices,
                initial=PressureSpec.Basis.HOT,
            ),
            air_c=MeasuredField(unit=heat, low=-10, high=50, label="Air then", required=False),
            track_surface_c=MeasuredField(unit=heat, low=-10, high=80, label="Track surface then", required=False),
            track_name=_words("On which track", 100, required=False),
            pace=_words("At what pace", 40, required=False, hint="Such as the group, or a share of full pace."),
            noted_on=forms.DateField(
                label="Day it is from", widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
                help_text="The day it was ridden, or the day you found it. Old notes count less.",
            ),
            source=_words(
                "Where it was found", 200, hint="So that somebody else can look it up: who said or wrote it, and where."
            ),
        )  # fmt: skip
        if is_new:
            self.take(key=KeyField())

    def given(self) -> dict[str, Any]:
        """Return what was said as keywords of the action."""
        return self.cleaned_data | {"spec": self.specs[self.cleaned_data["spec"]]}


@require_POST
def add(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    """Store a note; refused, it is shown again as typed."""
    by, at = person_of(request), timezone.now()
    test = test_run_by(by, pk)
    form = NoteForm(request.POST, test=test, person=by)
    if form.is_valid():
        try:
            gather_note(by=by, at=at, organisation=test.organisation, **form.given())
        except Refusal as refusal:
            form.refuse(refusal)
        else:
            messages.success(request, "The note is stored and weighed with the others below.")
            return redirect(reverse("start-pressures", args=[test.pk]))
    return _page(request, test, form, None)


@require_http_methods(["GET", "HEAD", "POST"])
def change(request: HttpRequest, pk: uuid.UUID, note: uuid.UUID) -> HttpResponse:
    """Correct a note of the test's organisation, or take it out."""
    by, at = person_of(request), timezone.now()
    test = test_run_by(by, pk)
    row = ReferenceNote.objects.filter(
        pk=note, organisation=test.organisation, spec__in=test.specs(Side.CANDIDATE.value).values()
    ).first()
    if row is None:
        raise NotFound("There is no such note in this test: open its start pressures again.")
    if request.method == "POST" and typed(request.POST, "do") == "drop":
        drop_note(by=by, gathered=row)
        messages.success(request, "The note is taken out.")
        return redirect(reverse("start-pressures", args=[test.pk]))
    names = ("basis", "pressure_kpa", "air_c", "track_surface_c", "track_name", "pace", "noted_on", "source")
    initial = {name: getattr(row, name) for name in names} | {"spec": str(row.spec_id)}
    sent = request.POST if request.method == "POST" else None
    form = NoteForm(sent, test=test, person=by, is_new=False, initial=initial)
    if sent is not None and form.is_valid():
        try:
            correct_note(by=by, at=at, gathered=row, **form.given())
        except Refusal as refusal:
            form.refuse(refusal)
        else:
            messages.success(request, "The note is corrected.")
            return redirect(reverse("start-pressures", args=[test.pk]))
    return _page(request, test, form, row)


def _page(request: HttpRequest, test: TireTest, form: NoteForm, note: ReferenceNote | None) -> HttpResponse:
    context = about(request, test) | {"note_form": form, "note": note}
    return render(request, "pages/trials/note.html", context, status=422 if form.errors else 200)


def _words(label: str, longest: int, *, required: bool = True, hint: str = "") -> forms.CharField:
    return forms.CharField(
        label=label, max_length=longest, required=required, help_text=hint,
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )  # fmt: skip
