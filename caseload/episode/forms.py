"""The shape of what is typed about an episode's course."""

from __future__ import annotations

from django import forms

from clinic.web.acts import DayInput, Pick, Version


class PauseForm(forms.Form):
    """A rest, with or without an end."""

    reason = forms.CharField(label="Why", max_length=400)
    first_day = forms.DateField(label="From", widget=DayInput)
    back_on = forms.DateField(label="Back on", widget=DayInput, required=False, help_text="Left empty: not known yet.")


class TransferForm(forms.Form):
    """Another site, and why."""

    site_id = Pick(label="To")
    reason = forms.CharField(label="Why", max_length=400)
    version = Version()
