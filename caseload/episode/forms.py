"""The shape of what is typed about an episode's course."""

from __future__ import annotations

from django import forms
from django.utils.translation import gettext_lazy

from clinic.web.acts import DayInput, Pick, Version


class PauseForm(forms.Form):
    """A rest, with or without an end."""

    reason = forms.CharField(label=gettext_lazy("Why"), max_length=400)
    first_day = forms.DateField(label=gettext_lazy("From"), widget=DayInput)
    back_on = forms.DateField(
        label=gettext_lazy("Back on"),
        widget=DayInput,
        required=False,
        help_text=gettext_lazy("Left empty: not known yet."),
    )


class TransferForm(forms.Form):
    """Another site, and why."""

    site_id = Pick(label=gettext_lazy("To"))
    reason = forms.CharField(label=gettext_lazy("Why"), max_length=400)
    version = Version()
