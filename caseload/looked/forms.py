"""The question: whose number, and between which days."""

from __future__ import annotations

from typing import Any

from django import forms

from clinic.web.acts import DayInput


class LooksForm(forms.Form):
    """A person's number, and two days that are both included."""

    number = forms.CharField(label="Number of the person", max_length=20)
    first = forms.DateField(label="From", widget=DayInput())
    last = forms.DateField(label="Up to and including", widget=DayInput())

    def clean(self) -> dict[str, Any]:
        """The days stand in order."""
        said: dict[str, Any] = super().clean() or {}
        if said.get("first") and said.get("last") and said["last"] < said["first"]:
            self.add_error("last", "This day lies before the first.")
        return said
