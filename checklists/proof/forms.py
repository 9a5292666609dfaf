"""The shape of a request for a proof bundle."""

from __future__ import annotations

from django import forms
from django.utils.translation import gettext_lazy


class ProofForm(forms.Form):
    """What it is to be about, and a checkpoint with which it shall be comparable."""

    reference = forms.CharField(
        label=gettext_lazy("About"),
        max_length=80,
        help_text=gettext_lazy("The reference of an episode (as E26-0001), or the id of a sign-off's entry."),
        widget=forms.TextInput(attrs={"spellcheck": "false", "autocomplete": "off"}),
    )
    checkpoint = forms.CharField(
        label=gettext_lazy("A checkpoint that somebody kept"),
        required=False,
        max_length=20_000,
        strip=False,
        help_text=gettext_lazy(
            "Its whole text, from a witness or an e-mail, so that the bundle can be compared with it."
        ),
        widget=forms.Textarea(attrs={"rows": 5, "spellcheck": "false"}),
    )

    def notes(self) -> list[str]:
        """The text in which the checkpoint stands, where one was given."""
        text: str = self.cleaned_data["checkpoint"]
        return [text] if text.strip() else []
