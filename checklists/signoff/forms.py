"""The shape of what is typed to sign, to countersign and to withdraw."""

from __future__ import annotations

from django import forms

from checklists.signoff.countersign import Countersign


def _password(label: str, **more: object) -> forms.CharField:
    widget = forms.PasswordInput(attrs={"autocomplete": "current-password"})
    return forms.CharField(label=label, widget=widget, strip=False, **more)  # type: ignore[arg-type]


class SignForm(forms.Form):
    """A signature: the digest of what was shown, and the signer's password again."""

    digest = forms.CharField(widget=forms.HiddenInput, max_length=64)
    password = _password("Your password")

    def countersign(self) -> Countersign | None:
        """No countersignature is needed."""
        return None


class CountersignForm(SignForm):
    """A signature that the evidence does not carry: another clinic lead signs too, with a reason."""

    lead_username = forms.CharField(label="Clinic lead: sign-in name", max_length=60, required=False)
    lead_password = _password("Clinic lead: password", required=False)
    reason = forms.CharField(
        label="Clinic lead: reason", max_length=400, widget=forms.Textarea(attrs={"rows": 2}), required=False
    )

    def countersign(self) -> Countersign | None:
        """The lead's part. Left empty altogether there is none, and the service says what the evidence lacks."""
        said = self.cleaned_data
        if not any(said[name] for name in ("lead_username", "lead_password", "reason")):
            return None
        return Countersign(said["lead_username"], said["lead_password"], said["reason"])


class WithdrawForm(forms.Form):
    """A signature taken back."""

    reason = forms.CharField(label="Why", max_length=400, widget=forms.Textarea(attrs={"rows": 2}))
    password = _password("Your password")
