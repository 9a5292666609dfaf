"""The shape of what is typed about sessions."""

from __future__ import annotations

from django import forms

from clinic.web.acts import DayInput, Pick, TimeOfDayInput


class VisitForm(forms.Form):
    """One session, or the same every week."""

    day = forms.DateField(label="Day", widget=DayInput)
    wall = forms.TimeField(label="Begins at", widget=TimeOfDayInput)
    minutes = forms.IntegerField(label="Minutes", min_value=5, max_value=480, initial=45)
    weeks = forms.IntegerField(
        label="For how many weeks", min_value=1, max_value=26, initial=1, help_text="1 is this session alone."
    )
    staff_id = Pick(label="With", required=False)
    note = forms.CharField(max_length=400, required=False)
