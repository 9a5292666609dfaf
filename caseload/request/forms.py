"""The shape of what is typed about a request to the bench."""

from __future__ import annotations

from django import forms
from django.utils.translation import gettext_lazy

from caseload.request.models import Setting
from clinic.web.acts import Version


class AskForm(forms.Form):
    """What should be changed, and why."""

    setting = forms.ChoiceField(label=gettext_lazy("What"), choices=Setting.choices, widget=forms.RadioSelect)
    text = forms.CharField(
        label=gettext_lazy("What happens, and what you ask for"),
        widget=forms.Textarea(attrs={"rows": 4}),
        max_length=2000,
        help_text=gettext_lazy("What the bench needs to know: when it happens, on which surface, what was tried."),
    )


class RewordForm(AskForm):
    """The same, changed."""

    version = Version()
