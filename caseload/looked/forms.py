"""The question: whose number, and between which days."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from clinic.web.acts import DayInput


class LooksForm(forms.Form):
    """A person's number, and two days that are both included."""

    number = forms.CharField(label=gettext_lazy("Number of the person"), max_length=20)
    first = forms.DateField(label=gettext_lazy("From"), widget=DayInput())
    last = forms.DateField(label=gettext_lazy("Up to and including"), widget=DayInput())

    def clean(self) -> dict[str, Any]:
        """The days stand in order."""
        said: dict[str, Any] = super().clean() or {}
        if said.get("first") and said.get("last") and said["last"] < said["first"]:
            self.add_error("last", _("This day lies before the first."))
        return said
