"""Forms of the tablets and of one's own PIN. They check shape; the services decide."""

from __future__ import annotations

from django import forms
from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy

from clinic.language.text import Text
from clinic.staff.forms import sites
from clinic.staff.tablet.pin_rules import FEWEST, MOST

_DIGITS = {
    "inputmode": "numeric",
    "pattern": "[0-9]*",
    "autocomplete": "off",
    "minlength": str(FEWEST),
    "maxlength": str(MOST),
}


def _pin(label: Text, help_text: Text = "", **more: str) -> forms.CharField:
    widget = forms.PasswordInput(attrs={**_DIGITS, **more})
    return forms.CharField(label=label, max_length=100, strip=True, help_text=help_text, widget=widget)


class PinForm(forms.Form):
    """The PIN of whoever was chosen."""

    pin = _pin(gettext_lazy("PIN"), autofocus="")


class OwnPinForm(forms.Form):
    """A PIN of one's own, and the password that shows who chooses it."""

    pin = _pin(
        gettext_lazy("New PIN"),
        format_lazy(
            gettext_lazy("{fewest} to {most} digits. No date, nothing that counts up or repeats."),
            fewest=FEWEST,
            most=MOST,
        ),
    )
    again = _pin(gettext_lazy("New PIN again"))
    password = forms.CharField(
        label=gettext_lazy("Your password"),
        strip=False,
        max_length=1000,
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
    )


class CodeForm(forms.Form):
    """The code that a lead has handed out."""

    code = forms.CharField(
        label=gettext_lazy("Code of this tablet"),
        max_length=40,
        widget=forms.TextInput(attrs={"autocomplete": "off", "autocapitalize": "none", "spellcheck": "false"}),
    )


class TabletForm(forms.Form):
    """A tablet of the gym."""

    name = forms.CharField(
        label=gettext_lazy("Name"),
        max_length=60,
        help_text=gettext_lazy("As it is written on its back."),
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )
    site_id = forms.TypedChoiceField(label=gettext_lazy("Site"), choices=sites, widget=forms.RadioSelect)
