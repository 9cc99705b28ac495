"""The form of an inspection at the gate, on its page for each wheel and on the list for any number."""

from typing import Any, Final

from django import forms

from fleet.inventory.inspection import Inspection
from fleet.pages.forms import KeyField, PlainForm
from fleet.photos.cleaning import MOST_BYTES, too_large

WHEELS: Final = (("front", "Front"), ("rear", "Rear"), ("both", "Both"))
OUTCOMES: Final = (
    (Inspection.Outcome.PASS, "Pass"),
    (Inspection.Outcome.ADVISE, "Advise: goes out, the rider should know"),
    (Inspection.Outcome.HOLD, "Hold: does not go out"),
)


class InspectionForm(PlainForm):
    """What was found on a wheel, or on both."""

    number = forms.CharField(
        label="Number on the bike",
        max_length=6,
        widget=forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off", "size": "6"}),
    )
    axle = forms.ChoiceField(
        label="Wheel",
        choices=WHEELS,
        widget=forms.RadioSelect,
        error_messages={"invalid_choice": "Choose the front wheel, the rear one, or both."},
    )
    outcome = forms.ChoiceField(
        label="What came of it",
        choices=OUTCOMES,
        widget=forms.RadioSelect,
        error_messages={"invalid_choice": "Choose pass, advise or hold."},
    )
    words = forms.CharField(label="What was seen", max_length=300, required=False)
    photo = forms.FileField(
        label="Photo, if it shows more",
        required=False,
        allow_empty_file=True,
        widget=forms.FileInput(attrs={"accept": "image/jpeg,image/png", "data-photo": ""}),
    )
    key = KeyField()

    def clean_photo(self) -> bytes | None:
        """Return the photo's bytes; one that is too large is refused unread."""
        file = self.cleaned_data["photo"]
        if not file or not file.size:
            return None
        if file.size > MOST_BYTES:
            raise forms.ValidationError(too_large(file.size).sentence)
        return bytes(file.read())

    def clean(self) -> dict[str, Any]:
        """Refuse one photo of two wheels, and words that are missing."""
        said = super().clean() or {}
        if said.get("photo") and said.get("axle") == "both":
            self.add_error(
                "axle", "A photo shows one wheel: choose which, and enter the other one by itself."
            )
        if said.get("outcome") in {"advise", "hold"} and not said.get("words") and "words" not in self.errors:
            self.add_error("words", "What was seen is missing: say it in a few words, the rider reads it.")
        return said


def of_wheel(axle: str, number: str) -> InspectionForm:
    """Return the form of one wheel of a number, its ids apart from those of the other wheel."""
    return InspectionForm(auto_id=f"{axle}-%s", initial={"axle": axle, "number": number})
