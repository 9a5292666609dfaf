"""Forms of the page 'Your sign-in'. They check shape; the services decide."""

from __future__ import annotations

from django import forms
from django.utils.translation import gettext_lazy

from clinic.language.text import Text
from clinic.staff.factors.asking import PasskeyField, ProofForm

_PLAIN = {"autocomplete": "off", "spellcheck": "false"}


def _name(help_text: Text) -> forms.CharField:
    return forms.CharField(
        label=gettext_lazy("Name"), max_length=60, help_text=help_text, widget=forms.TextInput(attrs=_PLAIN)
    )


class AddApp(ProofForm):
    """An app that makes codes: its name, and the code that it shows now."""

    name = _name(gettext_lazy("What you call it: 'my telephone'."))
    app_code = forms.CharField(
        label=gettext_lazy("Code in the app now"),
        max_length=20,
        widget=forms.TextInput(attrs={**_PLAIN, "inputmode": "numeric", "autocapitalize": "none"}),
    )
    field_order = ("app_code", "name", "password", "one_time_code", "passkey")


class AddPasskey(ProofForm):
    """A passkey; a script has the browser make it."""

    name = _name(gettext_lazy("What you call it: 'this tablet', 'key on my ring'."))
    made = PasskeyField()
    field_order = ("name", "password", "one_time_code", "passkey", "made")


class Rename(ProofForm):
    """Another name for a factor."""

    name = _name("")
    field_order = ("name", "password", "one_time_code", "passkey")


class Lost(forms.Form):
    """How a lead made sure who it is that has lost a factor."""

    how = forms.CharField(
        label=gettext_lazy("How you made sure that it is they who ask"),
        max_length=300,
        help_text=gettext_lazy(
            "'They stood before me; I have known them for years', or which paper you saw. A call is not enough."
        ),
        widget=forms.Textarea(attrs={"rows": 3}),
    )


class Checked(forms.Form):
    """How somebody's identity was checked."""

    how = forms.CharField(
        label=gettext_lazy("How you checked who this is"),
        max_length=400,
        help_text=gettext_lazy(
            "Which paper you saw, or who has known them for how long. It is kept with every signature's account."
        ),
        widget=forms.Textarea(attrs={"rows": 3}),
    )
