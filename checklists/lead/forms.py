"""The shape of an assignment out of the waiting list."""

from __future__ import annotations

from django import forms

from clinic.web.acts import DayInput, Pick


class AssignForm(forms.Form):
    """To whom, and since when."""

    therapist_id = Pick(label="To")
    first_day = forms.DateField(
        label="First seen on",
        widget=DayInput,
        required=False,
        help_text="Left empty: from now on. Never a day to come.",
    )
    reason = forms.CharField(label="Why them", max_length=400, required=False)
