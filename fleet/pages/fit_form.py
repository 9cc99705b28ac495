"""The form of one axle: everything that can be known beforehand is filled in."""

from typing import Any, Final

from django import forms

from fleet.inventory.models import Removal
from fleet.pages.fit_choices import Choice, chosen_among
from fleet.pages.forms import KeyField, LocalTimeField, PlainForm

KNOWN_AS: Final = {
    "lot": "chosen", "tire": "chosen", "axle": "chosen", "quantity": "chosen",
    "removed_at": "fitted_at", "moved_at": "fitted_at", "reason": "old_reason", "destination": "old_destination",
}  # fmt: skip
MOST_NEAR: Final = 4
"""So many are in view at once; the others are a tap away."""


GONE: Final = "This tire is not there any more: the last of its lot was taken, or the rider's own is on a wheel. Choose another one."


class TireSelect(forms.RadioSelect):
    """Radio buttons that carry what speaks against each tire, so that it is said at once, with no network too."""

    def __init__(self, found: list[Choice]) -> None:
        super().__init__()
        self.found = found

    def create_option(self, *args: Any, **kwargs: Any) -> dict[str, Any]:
        """Return a radio button with its warnings."""
        option = super().create_option(*args, **kwargs)
        choice = chosen_among(self.found, str(option["value"]))
        if choice is not None and choice.against:
            option["attrs"]["data-against"] = "\n".join(one.sentence for one in choice.against)
            option["attrs"]["data-confirms"] = choice.confirmation
        if choice is not None and choice.lot is not None:
            option["attrs"]["data-made-on"] = choice.lot.made_on.isoformat()
        return option


class FitForm(PlainForm):
    """Which tire goes on, when, and what becomes of the old one."""

    known_as = KNOWN_AS

    def __init__(
        self, *args: Any, axle: str, has_old: bool, choices: list[Choice], zone: str, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.choices = choices
        self.take(
            chosen=forms.ChoiceField(
                label=f"Which {axle} tire", choices=[(one.value, one.label) for one in choices],
                widget=TireSelect(choices), error_messages={"invalid_choice": GONE},
            ),
            identification=forms.CharField(
                label="Identification number, or its date code",
                max_length=20,
                required=False,
                widget=forms.TextInput(
                    attrs={"autocomplete": "off", "autocapitalize": "characters", "spellcheck": "false"}
                ),
                help_text="Read or scan it off the sidewall; the four digits of week and year are enough. "
                "Left empty, the lot's date counts.",
            ),
            fitted_at=LocalTimeField(zone=zone, label="Fitted at", help_text=f"The track's clock, {zone}."),
            confirmed=forms.CharField(required=False, max_length=200, widget=forms.HiddenInput, label=""),
            key=KeyField(),
        )  # fmt: skip
        if not self.is_bound:  # what somebody typed stays, also when the form comes back
            self.fields["fitted_at"].widget.attrs["data-now"] = zone
        if has_old:
            self.take(
                old_reason=forms.ChoiceField(
                    label="Why the old tire comes off",
                    choices=Removal.Reason.choices,
                    widget=forms.RadioSelect,
                ),
                old_destination=forms.ChoiceField(
                    label="Where it goes", choices=Removal.Destination.choices, widget=forms.RadioSelect
                ),
            )

    @property
    def near(self) -> list[forms.boundfield.BoundWidget]:
        """The buttons of the tires that are likely to go on: what is wished, the same again, what nothing speaks against."""
        return self._buttons(are_near=True)

    @property
    def rest(self) -> list[forms.boundfield.BoundWidget]:
        """The buttons of all others, and of leaving the axle empty."""
        return self._buttons(are_near=False)

    @property
    def is_rest_open(self) -> bool:
        """Whether the chosen one, or every one, is among the others."""
        chosen = str(self["chosen"].value() or "")
        return not self.near or any(str(one.data["value"]) == chosen for one in self.rest)

    def _buttons(self, *, are_near: bool) -> list[forms.boundfield.BoundWidget]:
        near = [one.value for one in self.choices if one.is_near][:MOST_NEAR]
        return [one for one in self["chosen"].subwidgets if (str(one.data["value"]) in near) == are_near]

    @property
    def unconfirmed(self) -> Choice | None:
        """The chosen tire, where something speaks against it that nobody confirmed having read."""
        choice = chosen_among(self.choices, str(self["chosen"].value() or ""))
        sent = self.data.get("confirmed", "") if self.is_bound else ""
        return None if choice is None or choice.is_confirmed_by(sent) else choice
