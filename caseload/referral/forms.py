"""The shape of what is typed about a referral."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from caseload.episode.models import Side
from caseload.person.forms import PersonFields
from caseload.referral.details import ReferralDetails
from caseload.referral.models import Level, Urgency
from caseload.words import FEATURES
from clinic.web.acts import DayInput, Pick, Version

if TYPE_CHECKING:
    from caseload.referral.selectors import Waiting

UNKNOWN, NOTHING = "unknown", "none"  # answers of their own: neither stands beside a feature


class KneeField(forms.MultipleChoiceField):
    """What the knee has: features, none of them, or None where nobody knows it yet, which is what an untouched form
    says."""

    def __init__(self) -> None:
        own = [(NOTHING, gettext_lazy("none of these")), (UNKNOWN, gettext_lazy("not known yet"))]
        super().__init__(
            label=gettext_lazy("The knee has"),
            choices=[*FEATURES, *own],
            widget=forms.CheckboxSelectMultiple(attrs={"data-alone": f"{NOTHING} {UNKNOWN}"}),
            initial=[UNKNOWN],
            error_messages={"required": gettext_lazy("Say what the knee has, or that it is not known yet.")},
        )

    def clean(self, value: Any) -> list[str] | None:
        """The answer as the referral keeps it."""
        said = super().clean(value)
        if len(said) > 1 and {NOTHING, UNKNOWN} & {*said}:
            raise forms.ValidationError(_("Either what the knee has, or none of these, or not known yet."))
        return None if said == [UNKNOWN] else [one for one in said if one != NOTHING]


def knee_answer(knee: Sequence[str] | None) -> list[str]:
    """The boxes that are ticked for what a referral says."""
    return [UNKNOWN] if knee is None else list(knee) or [NOTHING]


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
    features = KneeField()
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


class ChangeForm(ReferralFields):
    """The same, put right; it names the version that it was made from."""

    version = Version()


class EndForm(forms.Form):
    """Why somebody will not be seen here."""

    reason = forms.CharField(label=gettext_lazy("Why"), max_length=400)
    version = Version()


def taking(data: Mapping[str, Any] | None, start: dict[str, Any], *, known: bool, looked: bool) -> ReferralFields:
    """The form of a new referral. Where somebody was looked up and not found (`looked`), their name comes next."""
    form = (ReferralFields if known else NewPersonForm)(data, initial=start)
    if looked and not form.is_bound:
        form.fields["given_name"].widget.attrs["autofocus"] = True
    return form


def as_it_stands(row: Waiting, said: ReferralDetails) -> dict[str, Any]:
    """What a referral says, as the fields of a ChangeForm."""
    return {**asdict(said), "features": knee_answer(said.features), "site_id": row.site_id, "version": row.version}


def referral_details(said: dict[str, Any]) -> ReferralDetails:
    """Take the referral's fields out of a cleaned form."""
    return ReferralDetails(**{name: said[name] for name in ReferralDetails.__dataclass_fields__})
