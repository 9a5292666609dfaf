"""The shape of what is typed about planned reviews."""

from __future__ import annotations

from django import forms

from caseload.review.models import ReviewKind
from clinic.web.acts import DayInput, Version


class ReviewForm(forms.Form):
    """A review to come."""

    kind = forms.ChoiceField(label="Why", choices=ReviewKind.choices, widget=forms.RadioSelect, initial="routine")
    due_on = forms.DateField(label="Due on", widget=DayInput)
    note = forms.CharField(max_length=400, required=False)


class PutOffForm(forms.Form):
    """Another day for a review, and why."""

    due_on = forms.DateField(label="New day", widget=DayInput)
    reason = forms.CharField(label="Why", max_length=400)
    version = Version()


class CancelForm(forms.Form):
    """Why a review is no longer needed."""

    reason = forms.CharField(label="Why", max_length=400)
    version = Version()
