"""The shape of what is typed about sessions."""

from __future__ import annotations

from django import forms
from django.utils.translation import gettext_lazy

from clinic.web.acts import DayInput, Pick, TimeOfDayInput


class VisitForm(forms.Form):
    """One session, or the same every week."""

    day = forms.DateField(label=gettext_lazy("Day"), widget=DayInput)
    wall = forms.TimeField(label=gettext_lazy("Begins at"), widget=TimeOfDayInput)
    minutes = forms.IntegerField(label=gettext_lazy("Minutes"), min_value=5, max_value=480, initial=45)
    weeks = forms.IntegerField(
        label=gettext_lazy("For how many weeks"),
        min_value=1,
        max_value=26,
        initial=1,
        help_text=gettext_lazy("1 is this session alone."),
    )
    staff_id = Pick(label=gettext_lazy("With"), required=False)
    note = forms.CharField(label=gettext_lazy("Note"), max_length=400, required=False)
