"""The forms of ending an account and of moving somebody by a day. They check shape; the services decide."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any
from uuid import UUID

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from checklists.leaving.selectors import OnePerson
from clinic.staff.forms import sites
from clinic.staff.roles import Role
from clinic.web.acts import DayInput, Pick, offer

EACH = "each-"


class EndForm(forms.Form):
    """Why, and who takes over: one colleague for all, another for one person, or nobody yet on purpose."""

    reason = forms.CharField(label=gettext_lazy("Why"), max_length=400, widget=forms.Textarea(attrs={"rows": 2}))
    to = Pick(
        required=False,
        label=gettext_lazy("Who takes over"),
        help_text=gettext_lazy("For everybody below for whom nobody else is chosen."),
    )
    nobody = forms.BooleanField(
        required=False,
        label=gettext_lazy("Leave whoever is left to nobody for now: every lead is told, and Caseload lists them"),
    )

    def __init__(
        self, data: Any, *, people: Sequence[OnePerson], colleagues: Iterable[tuple[UUID, str]], **more: Any
    ) -> None:
        super().__init__(data, **more)
        self.people = people
        options = list(colleagues)
        if not people:
            del self.fields["to"], self.fields["nobody"]
            return
        offer(self, "to", options, nothing=_("Nobody for all of them"))
        for person in people:
            name = f"{EACH}{person.plan.episode_id}"
            self.fields[name] = Pick(required=False, label=_("{name} goes to").format(name=person.plan.name))
            offer(self, name, options, nothing=_("as above"))

    def clean(self) -> dict[str, Any]:
        """Episode → colleague, out of the fields of single people."""
        said = dict(self.cleaned_data)
        chosen = {UUID(name.removeprefix(EACH)): said.pop(name) for name in list(said) if name.startswith(EACH)}
        return {**said, "each": {episode: to for episode, to in chosen.items() if to}}

    def rows(self) -> list[tuple[OnePerson, forms.BoundField]]:
        """Each person with the field that chooses for them alone."""
        return [(person, self[f"{EACH}{person.plan.episode_id}"]) for person in self.people]


class MoveForm(forms.Form):
    """Site and roles from a day on."""

    on_day = forms.DateField(label=gettext_lazy("From"), widget=DayInput())
    site_id = forms.TypedChoiceField(label=gettext_lazy("Site"), choices=sites, coerce=UUID, widget=forms.RadioSelect)
    roles = forms.MultipleChoiceField(
        label=gettext_lazy("Roles from that day on"),
        choices=Role.choices,
        required=False,
        widget=forms.CheckboxSelectMultiple,
    )
    seen = forms.CharField(required=False, widget=forms.HiddenInput)
