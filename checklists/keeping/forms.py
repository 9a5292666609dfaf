"""Forms of this room: they check shape; the services decide."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any
from uuid import UUID

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, pgettext_lazy

from checklists.episode.forms import OnceForm
from clinic.staff.factors.asking import ProofForm

ANSWERS = [
    ("agreed", pgettext_lazy("correction", "agreed")),
    ("declined", pgettext_lazy("correction", "declined")),
]


def _lines(rows: int) -> forms.Textarea:
    return forms.Textarea(attrs={"rows": rows})


class RetentionForm(forms.Form):
    """How many years, and by which law or policy."""

    years = forms.IntegerField(
        label=gettext_lazy("Years after the episode’s end"),
        min_value=1,
        max_value=150,
        required=False,
        help_text=gettext_lazy("Left empty: kept for ever."),
    )
    reason = forms.CharField(label=gettext_lazy("By which law or policy"), max_length=400, widget=_lines(3))


class WhyForm(forms.Form):
    """A reason."""

    reason = forms.CharField(label=gettext_lazy("Why"), max_length=400, widget=_lines(3))


class ArchiveForm(forms.Form):
    """For whom, and on which request."""

    why = forms.CharField(label=gettext_lazy("For whom, and on which request"), max_length=400, widget=_lines(2))


class ErasureForm(forms.Form):
    """The legal ground, and why."""

    ground = forms.CharField(label=gettext_lazy("Provision of law that demands it"), max_length=200)
    reason = forms.CharField(
        label=gettext_lazy("Why"),
        max_length=400,
        widget=_lines(3),
        help_text=gettext_lazy("Stays for ever beside what is left: write no word about the person."),
    )
    overrides_retention = forms.BooleanField(
        label=gettext_lazy("The ground demands it although the record is still to be kept"), required=False
    )


class ConfirmForm(ProofForm):
    """Showing again who one is."""

    understood = forms.BooleanField(
        label=gettext_lazy("I have compared the number, and know that this cannot be undone")
    )


class AskForm(OnceForm):
    """What is said to be wrong, and who says so."""

    text = forms.CharField(
        label=gettext_lazy("What is wrong, and what would be right"), max_length=4000, widget=_lines(4)
    )
    asked_by = forms.CharField(
        label=gettext_lazy("Who asks"),
        max_length=200,
        help_text=gettext_lazy("The person, or somebody for them: name and relation."),
    )


class AnswerForm(OnceForm):
    """Agreed or declined, and by what it was put right."""

    answer = forms.ChoiceField(label=gettext_lazy("Answer"), choices=ANSWERS, widget=forms.RadioSelect)
    strike = forms.BooleanField(label=gettext_lazy("Strike that entry out with this answer"), required=False)
    done = forms.MultipleChoiceField(
        label=gettext_lazy("What put it right"),
        widget=forms.CheckboxSelectMultiple,
        required=False,
        help_text=gettext_lazy("Recorded since it was asked for."),
    )
    reason = forms.CharField(
        label=gettext_lazy("Why it is declined, or what was done"), max_length=4000, widget=_lines(3), required=False
    )

    def __init__(self, data: Any, *, since: Iterable[tuple[str, str, str]], may_strike: bool) -> None:
        super().__init__(data)
        self._kinds = {key: kind for key, kind, _ in since}
        self.fields["done"].choices = [(key, words) for key, _, words in since]  # type: ignore[attr-defined]  # the stubs know no choices of a Field
        if not self._kinds:
            del self.fields["done"]
        if not may_strike:
            del self.fields["strike"]

    def clean(self) -> dict[str, Any]:
        """What put it right, apart: strike-outs, and new entries."""
        said: dict[str, Any] = super().clean() or {}
        done = said.pop("done", [])
        said["struck"] = [UUID(key) for key in done if self._kinds[key] == "struck_out"]
        said["added"] = [UUID(key) for key in done if self._kinds[key] != "struck_out"]
        if said.get("answer") == "declined" and (done or said.get("strike")):
            self.add_error("answer", _("Where it is declined, nothing is struck out or added."))
        if not (done or said.get("strike") or said.get("reason")):
            self.add_error("reason", _("Say why it is declined, or what was done."))
        return said
