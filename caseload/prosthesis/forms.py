"""The shape of what is typed into the device register."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import cast

from django import forms
from django.utils.translation import gettext_lazy

from caseload.prosthesis.models import PartKind
from caseload.words import side_words
from clinic.web.acts import DayInput, Version


class ScaleFields(forms.Form):
    """What the prosthesis is called here, and the marks of its knee's resistance."""

    label = forms.CharField(
        label=gettext_lazy("Label"),
        max_length=80,
        help_text=gettext_lazy("How the bench knows it, for example “Day leg”."),
    )
    resistance_low = forms.IntegerField(
        label=gettext_lazy("Lowest mark of the resistance"), min_value=0, max_value=98, initial=1
    )
    resistance_high = forms.IntegerField(label=gettext_lazy("Highest mark"), min_value=1, max_value=99, initial=9)


class RegisterForm(ScaleFields):
    """A prosthesis that is new here."""

    side = forms.ChoiceField(
        label=gettext_lazy("Side"),
        choices=[("left", gettext_lazy("left")), ("right", gettext_lazy("right"))],
        widget=forms.RadioSelect,
    )
    field_order = ("side", "label", "resistance_low", "resistance_high")

    def __init__(self, data: object, *, sides: Sequence[str]) -> None:
        """`sides`: what can be registered yet; the only one is chosen already."""
        super().__init__(data, initial={"side": sides[0] if len(sides) == 1 else None})  # type: ignore[arg-type]  # a request's POST, or nothing
        if sides:  # where there is none the service says what to do instead
            side = cast("forms.ChoiceField", self.fields["side"])
            side.choices = [(one, side_words(one)) for one in sides]


class ScaleForm(ScaleFields):
    """The same, corrected."""

    version = Version()


class PartForm(forms.Form):
    """A part that is fitted, and is nothing for the record."""

    kind = forms.ChoiceField(label=gettext_lazy("Part"), choices=PartKind.choices, widget=forms.RadioSelect)
    description = forms.CharField(label=gettext_lazy("Description"), max_length=120)
    serial = forms.CharField(label=gettext_lazy("Serial number"), max_length=60, required=False)
    since = forms.DateField(label=gettext_lazy("Worn from"), widget=DayInput)

    def __init__(self, data: object, *, kind: str, kinds: Sequence[str], since: date) -> None:
        """`kind`: the part that was chosen before, if one was; `kinds`: what can be fitted here."""
        super().__init__(data, initial={"kind": kind, "since": since})  # type: ignore[arg-type]  # a request's POST, or nothing
        chosen = cast("forms.ChoiceField", self.fields["kind"])
        chosen.choices = [(key, words) for key, words in PartKind.choices if key in kinds]


class CorrectPartForm(forms.Form):
    """What a part is, put right, and why. `seen`: what it was called when this was shown, carried along unseen."""

    description = forms.CharField(label=gettext_lazy("Description"), max_length=120)
    serial = forms.CharField(label=gettext_lazy("Serial number"), max_length=60, required=False)
    reason = forms.CharField(label=gettext_lazy("Why"), max_length=400, widget=forms.Textarea(attrs={"rows": 2}))
    seen = forms.CharField(widget=forms.HiddenInput)


class RemoveForm(forms.Form):
    """The day from which a part is no longer worn."""

    on = forms.DateField(label=gettext_lazy("No longer worn from"), widget=DayInput)
