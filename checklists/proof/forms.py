"""The shape of a request for a proof bundle."""

from __future__ import annotations

from django import forms
from django.utils.translation import gettext_lazy

from checklists.proof.choosing import WHOLE, Choice


class ProofForm(forms.Form):
    """What it is to be about, and a checkpoint with which it shall be comparable; of an episode, what it is to hold."""

    reference = forms.CharField(
        label=gettext_lazy("About"),
        max_length=80,
        help_text=gettext_lazy(
            "The reference of an episode (as E26-0001): you then choose one of its sign-offs, or the whole record. "
            "Or the id of a sign-off's entry."
        ),
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
    choice: Choice | None = None

    def offer(self, choice: Choice | None) -> None:
        """Ask what of an episode it is to hold; what was chosen is taken where it is one of these."""
        self.choice = choice
        if choice is None:
            return
        self.fields["reference"].widget = forms.HiddenInput()
        holds = self.fields["holds"] = forms.ChoiceField(
            label=gettext_lazy("What the file holds"), choices=choice.parts, widget=forms.RadioSelect
        )
        chosen = self.data.get("holds", "")
        if chosen in dict(choice.parts):
            self.cleaned_data["holds"] = chosen
        elif chosen:
            self.add_error("holds", holds.error_messages["invalid_choice"] % {"value": chosen})

    def about(self) -> str:
        """The reference or id of what is to be made; nothing where that is still to be chosen."""
        given: str = self.cleaned_data["reference"]
        if self.choice is None:
            return given
        holds: str = self.cleaned_data.get("holds", "")
        return given if holds == WHOLE else holds

    def notes(self) -> list[str]:
        """The text in which the checkpoint stands, where one was given."""
        text: str = self.cleaned_data["checkpoint"]
        return [text] if text.strip() else []
