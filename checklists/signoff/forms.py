"""The shape of what is typed to sign, to countersign and to withdraw."""

from __future__ import annotations

from typing import Any

from django import forms
from django.http import HttpRequest
from django.utils.translation import gettext_lazy

from checklists.signoff.countersign import Countersign
from checklists.signoff.meaning import SIGNING_OFF
from clinic import clock
from clinic.staff.factors.asking import DEMO_HELP, ProofForm, code_field
from clinic.staff.factors.demo import codes_of_leads
from clinic.staff.models import Staff


class SignForm(ProofForm):
    """A signature: the digest of what was shown, what it means, and who one is, shown again."""

    digest = forms.CharField(widget=forms.HiddenInput, max_length=64)
    meaning = forms.CharField(widget=forms.HiddenInput, max_length=20, initial=SIGNING_OFF)

    def countersign(self) -> Countersign | None:
        """No countersignature is needed."""
        return None


class CountersignForm(SignForm):
    """A signature that the evidence does not carry: another clinic lead signs too, with a reason."""

    lead_username = forms.CharField(label=gettext_lazy("Clinic lead: sign-in name"), max_length=60, required=False)
    lead_password = forms.CharField(
        label=gettext_lazy("Clinic lead: password"),
        strip=False,
        max_length=1000,
        required=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "off"}),
    )
    lead_one_time_code = code_field(
        gettext_lazy("Clinic lead: code"), help_text=gettext_lazy("Of the lead's own second factor.")
    )
    reason = forms.CharField(
        label=gettext_lazy("Clinic lead: reason"),
        max_length=400,
        widget=forms.Textarea(attrs={"rows": 2}),
        required=False,
    )

    def __init__(self, request: HttpRequest, actor: Staff, **more: Any) -> None:
        super().__init__(request, actor, **more)
        if codes := codes_of_leads(actor, clock.now()):
            self.fields["lead_one_time_code"].help_text = f"{DEMO_HELP} {codes}"

    def countersign(self) -> Countersign | None:
        """The lead's part. Left empty altogether there is none, and the service says what the evidence lacks."""
        said = self.cleaned_data
        if not any(said[name] for name in ("lead_username", "lead_password", "reason")):
            return None
        return Countersign(said["lead_username"], said["lead_password"], said["reason"], said["lead_one_time_code"])


class WithdrawForm(ProofForm):
    """A signature taken back."""

    reason = forms.CharField(label=gettext_lazy("Why"), max_length=400, widget=forms.Textarea(attrs={"rows": 2}))
    field_order = ("reason", "password", "one_time_code", "passkey")
