"""The shape of what is typed about planned reviews."""

from __future__ import annotations

from django import forms
from django.utils.translation import gettext_lazy

from caseload.review.models import ReviewKind
from clinic.web.acts import DayInput, Version


class ReviewForm(forms.Form):
    """A review to come."""

    kind = forms.ChoiceField(
        label=gettext_lazy("Why"), choices=ReviewKind.choices, widget=forms.RadioSelect, initial="routine"
    )
    due_on = forms.DateField(label=gettext_lazy("Due on"), widget=DayInput)
    note = forms.CharField(label=gettext_lazy("Note"), max_length=400, required=False)


class PutOffForm(forms.Form):
    """Another day for a review, and why."""

    due_on = forms.DateField(label=gettext_lazy("New day"), widget=DayInput)
    reason = forms.CharField(label=gettext_lazy("Why"), max_length=400)
    version = Version()


class CancelForm(forms.Form):
    """Why a review is no longer needed."""

    reason = forms.CharField(label=gettext_lazy("Why"), max_length=400)
    version = Version()
