"""What is asked before a record is opened in an emergency, and afterwards."""

from __future__ import annotations

from django import forms
from django.utils.translation import gettext_lazy

from caseload.emergency.models import Judgement


class OpenForm(forms.Form):
    """Whose record, by two identifiers, and why."""

    number = forms.CharField(label=gettext_lazy("Number of the person"), max_length=20)
    family_name = forms.CharField(label=gettext_lazy("Family name"), max_length=80)
    reason = forms.CharField(
        label=gettext_lazy("Why you must read it now"),
        max_length=400,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text=gettext_lazy("A clinic lead reads this at once, and asks you about it afterwards."),
    )


class JudgeForm(forms.Form):
    """What the lead found."""

    judgement = forms.ChoiceField(label=gettext_lazy("What you found"), choices=Judgement, widget=forms.RadioSelect)
    text = forms.CharField(
        label=gettext_lazy("What you looked at, and what came of it"),
        max_length=400,
        widget=forms.Textarea(attrs={"rows": 3}),
    )
