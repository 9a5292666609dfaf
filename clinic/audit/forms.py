"""The filters of the trail."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from clinic.audit.selectors import Choices, Wanted
from clinic.audit.words import words_of
from clinic.web.acts import DayInput

NOBODY = "nobody"


class TrailFilter(forms.Form):
    """What to look for. Every field may stay empty."""

    actor = forms.ChoiceField(label=gettext_lazy("Who"), required=False)
    verb = forms.ChoiceField(label=gettext_lazy("Did what"), required=False)
    about = forms.CharField(
        label=gettext_lazy("About"),
        required=False,
        max_length=80,
        help_text=gettext_lazy("The reference of an episode or a member of staff, the number of a person, or an id."),
    )
    first = forms.DateField(label=gettext_lazy("From"), required=False, widget=DayInput())
    last = forms.DateField(label=gettext_lazy("Up to and including"), required=False, widget=DayInput())

    def __init__(self, data: Any, choices: Choices) -> None:
        super().__init__(data)
        people = [(str(pk), name) for pk, name in choices.staff]
        self.fields["actor"].choices = [("", _("anybody")), (NOBODY, _("nobody signed in")), *people]  # type: ignore[attr-defined]  # the stubs know no choices of a Field
        verbs = sorted(((verb, words_of(verb)) for verb in choices.verbs), key=lambda one: one[1])
        self.fields["verb"].choices = [("", _("anything")), *verbs]  # type: ignore[attr-defined]  # the stubs know no choices of a Field

    def wanted(self) -> Wanted:
        """The filter, from what fits; what does not fit is marked in the form and not used."""
        said = self.cleaned_data if self.is_valid() else getattr(self, "cleaned_data", {})
        actor, about = said.get("actor") or "", (said.get("about") or "").strip()
        return Wanted(
            actor=forms.UUIDField().clean(actor) if actor and actor != NOBODY else None,
            nobody=actor == NOBODY,
            about=about,
            verb=said.get("verb") or "",
            first=said.get("first"),
            last=said.get("last"),
            zone=timezone.get_current_timezone_name(),
        )
