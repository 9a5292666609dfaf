"""The shape of what is typed about who carries whom."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from clinic.web.acts import DayInput, Pick, Version


class ReassignForm(forms.Form):
    """Another therapist, and why."""

    staff_id = Pick(label=gettext_lazy("To whom"))
    reason = forms.CharField(
        label=gettext_lazy("Why"), max_length=400, help_text=gettext_lazy("Their next therapist will want to know.")
    )
    standing_id = forms.UUIDField(widget=forms.HiddenInput, required=False)
    version = forms.IntegerField(widget=forms.HiddenInput, required=False)


class CoverForm(forms.Form):
    """A colleague and the days on which they stand in, both included."""

    staff_id = Pick(label=gettext_lazy("Who stands in"))
    first_day = forms.DateField(label=gettext_lazy("From"), widget=DayInput)
    last_day = forms.DateField(label=gettext_lazy("To, that day included"), widget=DayInput)
    reason = forms.CharField(label=gettext_lazy("Why"), max_length=400, required=False)

    def clean(self) -> dict[str, Any]:
        """The days stand in order."""
        said: dict[str, Any] = super().clean() or {}
        if said.get("first_day") and said.get("last_day") and said["last_day"] < said["first_day"]:
            self.add_error("last_day", _("This day lies before the first."))
        return said


class AwayForm(forms.Form):
    """Whose people are covered: asked first, since it decides who may stand in."""

    away = Pick(label=gettext_lazy("Who is away"))


class LeaveForm(CoverForm):
    """The same for everybody whom a colleague carries who is away."""

    away_id = Pick()

    def __init__(self, *given: Any, **named: Any) -> None:
        super().__init__(*given, **named)
        self.fields["away_id"].widget = forms.HiddenInput()


class Nothing(forms.Form):
    """A deed that needs no words, only that it is meant."""


class EndForm(forms.Form):
    """Ending something, made from a version of it."""

    version = Version()
