"""The shape of an assignment out of the waiting list."""

from __future__ import annotations

from django import forms
from django.utils.translation import gettext_lazy

from clinic.web.acts import DayInput, Pick, Version


class AssignForm(forms.Form):
    """To whom, and since when."""

    therapist_id = Pick(label=gettext_lazy("To whom"))
    first_day = forms.DateField(
        label=gettext_lazy("In their care since"),
        widget=DayInput,
        required=False,
        help_text=gettext_lazy("Left empty: from now on. A past day for somebody who was seen already."),
    )
    reason = forms.CharField(label=gettext_lazy("Why them"), max_length=400, required=False)
    version = Version()
