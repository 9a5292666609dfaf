"""Forms at the door. They check shape; the services decide."""

from __future__ import annotations

from django import forms

_CURRENT = {"autocomplete": "current-password"}
_NEW = {"autocomplete": "new-password"}


class SignInForm(forms.Form):
    """Name and password."""

    username = forms.CharField(
        label="Sign-in name",
        max_length=150,
        widget=forms.TextInput(
            attrs={"autocomplete": "username", "autocapitalize": "none", "spellcheck": "false", "autofocus": True}
        ),
    )
    password = forms.CharField(
        label="Password", strip=False, max_length=1000, widget=forms.PasswordInput(attrs={**_CURRENT, "data-shown": ""})
    )


class PasswordForm(forms.Form):
    """The password that one has, and the one that one wants."""

    old_password = forms.CharField(
        label="Password that you have now", strip=False, max_length=1000, widget=forms.PasswordInput(attrs=_CURRENT)
    )
    new_password = forms.CharField(
        label="New password",
        strip=False,
        max_length=1000,
        help_text="15 characters or more. Several words that do not belong together are strong and can be remembered.",
        widget=forms.PasswordInput(attrs={**_NEW, "data-shown": ""}),
    )
    again_password = forms.CharField(
        label="New password again", strip=False, max_length=1000, widget=forms.PasswordInput(attrs=_NEW)
    )

    def clean(self) -> dict[str, object]:
        """Both new ones alike."""
        data = self.cleaned_data
        if data.get("new_password") != data.get("again_password"):
            self.add_error("again_password", "The two new passwords are not alike.")
        return data
