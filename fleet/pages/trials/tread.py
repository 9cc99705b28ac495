"""What the treads of one set show between the runs, zone by zone, with a photo where it says more."""

import uuid
from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from fleet.errors import NotFound, Refusal
from fleet.inventory.models import Fitting
from fleet.pages.asking import person_of, typed
from fleet.pages.forms import KeyField, LocalTimeField, PlainForm
from fleet.pages.trials.judge import seen_on
from fleet.pages.trials.measure import zone_of
from fleet.pages.trials.reaching import about, test_run_by
from fleet.photos.cleaning import MOST_BYTES
from fleet.running.actions import note_surface, void_reading
from fleet.running.models import SurfaceNote, Zone
from fleet.trials.models import Side
from fleet.trials.queries import require_opened, sets_of


class TreadForm(PlainForm):
    """What one tread shows in one zone."""

    known_as = {"tire": "axle"}

    def __init__(self, *args: Any, zone: str, fittings: dict[str, Fitting], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.take(
            axle=forms.ChoiceField(
                label="Tire",
                choices=[(axle, f"{axle.capitalize()}: {one.tire.spec}") for axle, one in fittings.items()],
                widget=forms.RadioSelect,
                error_messages={"invalid_choice": "Choose one of the tires of this set."},
            ),
            zone=forms.ChoiceField(
                label="Zone, seen from the saddle",
                choices=[("", "The whole tread"), *Zone.choices],
                required=False,
                widget=forms.RadioSelect,
                initial="",
            ),
            look=forms.ChoiceField(
                label="What it shows",
                choices=SurfaceNote.Look.choices,
                widget=forms.RadioSelect,
            ),
            words=forms.CharField(
                label="In your words",
                max_length=400,
                required=False,
                widget=forms.TextInput(attrs={"autocomplete": "off"}),
            ),
            photo=forms.FileField(
                label="Photo, if it shows more",
                required=False,
                allow_empty_file=True,
                widget=forms.FileInput(attrs={"accept": "image/jpeg,image/png"}),
                help_text="Where and with what it was taken is left out; leave out faces and number plates yourself.",
            ),
            seen_at=LocalTimeField(zone=zone, label="Seen at", help_text=f"The clock of {zone}."),
            key=KeyField(),
        )

    def clean_photo(self) -> bytes | None:
        """Return the photo's bytes; one that is too large is refused unread."""
        file = self.cleaned_data["photo"]
        if not file or not file.size:
            return None
        if file.size > MOST_BYTES:
            raise forms.ValidationError(
                f"The photo has {file.size / 1e6:.0f} MB: send at most {MOST_BYTES // 2**20} MB, take it with fewer pixels."
            )
        return bytes(file.read())


@require_POST
def void(request: HttpRequest, pk: uuid.UUID, side: str, note: uuid.UUID) -> HttpResponse:
    """Mark what was noted of a tread as wrong."""
    by = person_of(request)
    test = test_run_by(by, pk)
    if side not in Side.values:
        raise NotFound("A test has a baseline and a candidate: choose one of them on its page.")
    row = next((row for _, row in seen_on(sets_of(test)[side]) if row.pk == note), None)
    if row is None:
        raise NotFound("There is no such note of these treads: open the page again.")
    try:
        require_opened(by, test)
        void_reading(by=by, at=timezone.now(), reading=row, reason=typed(request.POST, "reason"))
    except Refusal as refusal:
        messages.warning(request, refusal.sentence)
    else:
        messages.success(request, "The note is taken back; that it was there stays in the history.")
    return redirect("tread-seen", test.pk, side)


@require_http_methods(["GET", "HEAD", "POST"])
def tread(request: HttpRequest, pk: uuid.UUID, side: str) -> HttpResponse:
    """Show what was seen on the treads of a set, and store what is seen now."""
    by, at = person_of(request), timezone.now()
    test = test_run_by(by, pk)
    if side not in Side.values:
        raise NotFound("A test has a baseline and a candidate: choose one of them on its page.")
    context = about(request, test)
    tire_set = sets_of(test)[side]
    is_sent = request.method == "POST"
    form = TreadForm(
        request.POST if is_sent else None,
        request.FILES if is_sent else None,
        zone=zone_of(test),
        fittings=tire_set.fittings,
        initial={"seen_at": at},
    )
    if is_sent and form.is_valid():
        said = form.cleaned_data
        try:
            require_opened(by, test)
            note_surface(
                by=by, at=at, vendor=test.organisation, tire=tire_set.fittings[said.pop("axle")].tire, **said
            )
        except Refusal as refusal:
            form.refuse(refusal)
        else:
            messages.success(request, f"What the {side} tread shows is stored.")
            return redirect("tread-seen", test.pk, side)
    context |= {
        "side": side,
        "form": form,
        "tire_set": tire_set,
        "zone": zone_of(test),
        "seen": seen_on(tire_set) if context["is_open"] else [],
    }
    return render(request, "pages/trials/tread.html", context, status=422 if form.errors else 200)
