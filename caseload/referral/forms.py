"""The shape of what is typed about a referral."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy

from caseload.episode.models import Side
from caseload.person.forms import PersonFields
from caseload.referral.details import ReferralDetails
from caseload.referral.models import Level, Urgency
from caseload.words import FEATURES
from clinic.web.acts import DayInput, Pick, Version


class ReferralFields(forms.Form):
    """As the referrer sent it."""

    site_id = Pick(label=gettext_lazy("At"))
    received_on = forms.DateField(label=gettext_lazy("Received on"), widget=DayInput)
    urgency = forms.ChoiceField(
        label=gettext_lazy("Urgency"), choices=Urgency.choices, widget=forms.RadioSelect, initial="routine"
    )
    level = forms.ChoiceField(
        label=gettext_lazy("Amputation level"), choices=[("", gettext_lazy("Choose …")), *Level.choices]
    )
    side = forms.ChoiceField(label=gettext_lazy("Prosthesis"), choices=Side.choices, widget=forms.RadioSelect)
    features = forms.MultipleChoiceField(
        label=gettext_lazy("The knee has"), choices=FEATURES, widget=forms.CheckboxSelectMultiple, required=False
    )
    referrer = forms.CharField(label=gettext_lazy("Referred by"), max_length=120, required=False)
    reason = forms.CharField(
        label=gettext_lazy("Reason, and what they want to do again"), widget=forms.Textarea(attrs={"rows": 3})
    )


class NewPersonForm(PersonFields, ReferralFields):
    """A referral of somebody who is new here."""

    field_order = (
        *("given_name", "family_name", "called", "pronoun", "born_on", "second_identifier", "number", "language"),
        *("site_id", "received_on", "level", "referrer", "urgency", "side", "features", "reason"),
        *("phone", "email", "next_of_kin", "address"),
    )


class EndForm(forms.Form):
    """Why somebody will not be seen here."""

    reason = forms.CharField(label=gettext_lazy("Why"), max_length=400)
    version = Version()


def referral_details(said: dict[str, Any]) -> ReferralDetails:
    """Take the referral's fields out of a cleaned form."""
    return ReferralDetails(**{name: said[name] for name in ReferralDetails.__dataclass_fields__})
