"""Forms of the staff pages. They check shape; the services decide."""

from __future__ import annotations

from zoneinfo import available_timezones

from django import forms
from django.utils.translation import gettext_lazy

from clinic.staff.models import Site
from clinic.staff.roles import KneeFeature, Role
from clinic.web.acts import DayInput, Version

_NO_HELP = {"autocomplete": "off", "spellcheck": "false"}


def sites() -> list[tuple[object, str]]:
    """The sites that a form offers."""
    return [(site.pk, site.name) for site in Site.objects.order_by("name")]


class StaffFields(forms.Form):
    """What is known of a member of staff."""

    name = forms.CharField(label=gettext_lazy("Name"), max_length=120, widget=forms.TextInput(attrs=_NO_HELP))
    email = forms.EmailField(
        label=gettext_lazy("E-mail"),
        required=False,
        help_text=gettext_lazy("Alerts and reminders go there; never a name."),
    )
    site_id = forms.TypedChoiceField(label=gettext_lazy("Site"), choices=sites, widget=forms.RadioSelect)
    minutes_per_week = forms.IntegerField(
        label=gettext_lazy("Minutes a week for people"),
        min_value=0,
        max_value=6000,
        help_text=gettext_lazy("In minutes, without the time at a desk: 25 hours are 1500."),
    )


class AddStaff(StaffFields):
    """Somebody new."""

    username = forms.CharField(
        label=gettext_lazy("Sign-in name"),
        max_length=60,
        widget=forms.TextInput(attrs={**_NO_HELP, "autocapitalize": "none"}),
    )
    roles = forms.MultipleChoiceField(
        label=gettext_lazy("Roles from today on"), choices=Role.choices, widget=forms.CheckboxSelectMultiple
    )
    field_order = ("name", "username", "email", "site_id", "roles", "minutes_per_week")


class EditStaff(StaffFields):
    """Somebody who is here already."""

    version = Version()


class AddSite(forms.Form):
    """A new site."""

    name = forms.CharField(label=gettext_lazy("Name of the site"), max_length=80)
    time_zone = forms.ChoiceField(
        label=gettext_lazy("Time zone"), choices=lambda: [(z, z) for z in sorted(available_timezones())]
    )


class GrantRole(forms.Form):
    """A role for a time."""

    role = forms.ChoiceField(label=gettext_lazy("Role"), choices=Role.choices, widget=forms.RadioSelect)
    starts_on = forms.DateField(label=gettext_lazy("From"), widget=DayInput())
    ends_on = forms.DateField(
        label=gettext_lazy("Up to and including"),
        required=False,
        widget=DayInput(),
        help_text=gettext_lazy("Empty: until further notice."),
    )


class LastDay(forms.Form):
    """The last day of a role."""

    last_day = forms.DateField(label=gettext_lazy("Last day in this role"), widget=DayInput())


class AddRegistration(forms.Form):
    """A professional registration."""

    number = forms.CharField(label=gettext_lazy("Number in the professional register"), max_length=40)
    starts_on = forms.DateField(label=gettext_lazy("From"), widget=DayInput())
    expires_on = forms.DateField(label=gettext_lazy("Last day"), widget=DayInput())


class Authorise(forms.Form):
    """Leave to work with a knee feature."""

    feature = forms.ChoiceField(
        label=gettext_lazy("Knee feature"),
        choices=KneeFeature.choices,
        widget=forms.RadioSelect,
        help_text=gettext_lazy("Adjustable resistance needs no authorisation."),
    )
    starts_on = forms.DateField(label=gettext_lazy("From"), widget=DayInput())
    expires_on = forms.DateField(label=gettext_lazy("Last day"), widget=DayInput())


class Reason(forms.Form):
    """Why."""

    reason = forms.CharField(label=gettext_lazy("Why"), max_length=400, widget=forms.Textarea(attrs={"rows": 3}))


class Nothing(forms.Form):
    """A deed that needs no words, only that it is meant."""
