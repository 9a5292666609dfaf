"""Forms at the door. They check shape; the services decide."""

from __future__ import annotations

from typing import Any

from django import forms
from django.http import HttpRequest
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from clinic.staff.factors.asking import (
    OneOfSeveral,
    PasskeyField,
    code_field,
    password_field,
    place_of,
    show_code_in_demo,
)
from clinic.staff.factors.models import Kind, in_use
from clinic.staff.models import Staff

_CURRENT = {"autocomplete": "current-password"}
_NEW = {"autocomplete": "new-password"}


class SignInForm(forms.Form):
    """Name and password; or a passkey, which is both."""

    username = OneOfSeveral(
        label=gettext_lazy("Sign-in name"),
        max_length=150,
        widget=forms.TextInput(
            attrs={"autocomplete": "username", "autocapitalize": "none", "spellcheck": "false", "autofocus": True}
        ),
    )
    password = password_field(gettext_lazy("Password"))
    passkey = PasskeyField()

    def clean(self) -> dict[str, Any]:
        """One way or the other."""
        said = self.cleaned_data
        for name, words in (("username", _("Give your sign-in name.")), ("password", _("Give your password."))):
            if not said.get("passkey") and not said.get(name) and name not in self.errors:
                self.add_error(name, words)
        return said


class SecondStepForm(forms.Form):
    """A code of the second factor, or a passkey."""

    one_time_code = code_field(gettext_lazy("Code"))
    passkey = PasskeyField()

    def __init__(self, request: HttpRequest, staff: Staff) -> None:
        super().__init__(request.POST if request.method == "POST" else None)
        kinds = set(in_use(staff).values_list("kind", flat=True))
        self.passkeys = Kind.PASSKEY in kinds and place_of(request).fit
        self.fields["one_time_code"].widget.attrs["autofocus"] = True
        show_code_in_demo(self.fields["one_time_code"], staff)

    def clean(self) -> dict[str, Any]:
        """One or the other."""
        said = self.cleaned_data
        if not said.get("passkey") and not said.get("one_time_code"):
            self.add_error("one_time_code", _("Give the code that your app shows now."))
        return said


class PasswordForm(forms.Form):
    """The password that one has, and the one that one wants."""

    old_password = forms.CharField(
        label=gettext_lazy("Password that you have now"),
        strip=False,
        max_length=1000,
        widget=forms.PasswordInput(attrs=_CURRENT),
    )
    new_password = forms.CharField(
        label=gettext_lazy("New password"),
        strip=False,
        max_length=1000,
        help_text=gettext_lazy(
            "15 characters or more. Several words that do not belong together are strong and can be remembered."
        ),
        widget=forms.PasswordInput(attrs={**_NEW, "data-shown": ""}),
    )
    again_password = forms.CharField(
        label=gettext_lazy("New password again"), strip=False, max_length=1000, widget=forms.PasswordInput(attrs=_NEW)
    )

    def clean(self) -> dict[str, object]:
        """Both new ones alike."""
        data = self.cleaned_data
        if data.get("new_password") != data.get("again_password"):
            self.add_error("again_password", _("The two new passwords are not alike."))
        return data
