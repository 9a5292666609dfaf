"""The shape of what is typed about a person."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy

from caseload.person.details import PersonDetails
from clinic.web.acts import DayInput, Version


class PersonFields(forms.Form):
    """Two identifiers, names, and whom to reach."""

    number = forms.CharField(
        label=gettext_lazy("Our number"),
        max_length=20,
        required=False,
        help_text=gettext_lazy("Left empty, the next free number is given."),
    )
    second_identifier = forms.CharField(
        label=gettext_lazy("Second identifier"),
        max_length=40,
        help_text=gettext_lazy(
            "The referrer's number for them. None yet: the number of a card of theirs, or their own telephone; it can "
            "be changed later."
        ),
    )
    given_name = forms.CharField(label=gettext_lazy("Given name"), max_length=80)
    family_name = forms.CharField(label=gettext_lazy("Family name"), max_length=80)
    called = forms.CharField(label=gettext_lazy("Wishes to be called"), max_length=80, required=False)
    pronoun = forms.CharField(label=gettext_lazy("Pronoun"), max_length=20, required=False)
    born_on = forms.DateField(label=gettext_lazy("Born on"), widget=DayInput)
    language = forms.CharField(
        label=gettext_lazy("Language"),
        max_length=35,
        initial="en",
        help_text=gettext_lazy("As a tag: en, es, cy, ar … What they take home is in it where the pages are."),
    )
    phone = forms.CharField(label=gettext_lazy("Phone"), max_length=40, required=False)
    email = forms.EmailField(label=gettext_lazy("E-mail"), max_length=254, required=False)
    address = forms.CharField(label=gettext_lazy("Address"), widget=forms.Textarea(attrs={"rows": 3}), required=False)
    next_of_kin = forms.CharField(
        label=gettext_lazy("Next of kin"),
        max_length=200,
        required=False,
        help_text=gettext_lazy("Name, and how to reach them."),
    )


def person_details(said: dict[str, Any]) -> PersonDetails:
    """Take the person's fields out of a cleaned form."""
    return PersonDetails(**{name: said[name] for name in PersonDetails.__dataclass_fields__})


class PersonForm(PersonFields):
    """The same for an edit, which names the version that it was made from."""

    number = forms.CharField(label=gettext_lazy("Our number"), max_length=20)
    version = Version()


class WeightForm(forms.Form):
    """A body weight and its day."""

    kg = forms.DecimalField(
        label=gettext_lazy("Weight in kilograms"), min_value=1, max_value=399, max_digits=5, decimal_places=1
    )
    measured_on = forms.DateField(label=gettext_lazy("Measured on"), widget=DayInput)
