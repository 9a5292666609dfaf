"""The shape of what is typed to adopt."""

from django import forms


class AdoptForm(forms.Form):
    """The digest of the list that was read, and the password again."""

    digest = forms.CharField(widget=forms.HiddenInput, max_length=64)
    password = forms.CharField(
        label="Your password", strip=False, widget=forms.PasswordInput(attrs={"autocomplete": "current-password"})
    )
