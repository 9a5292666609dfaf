"""The shape of a review that is recorded, and of a discharge."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any
from uuid import UUID, uuid4

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, pgettext_lazy

from clinic.web.acts import DayInput

OUTCOMES = [
    ("cleared", gettext_lazy("cleared: may be trained again")),
    ("not_cleared", pgettext_lazy("review of a fall", "not cleared")),
]


class OnceForm(forms.Form):
    """A form that may be sent twice and is recorded once: it carries the id of its fact."""

    entry_id = forms.UUIDField(widget=forms.HiddenInput)

    def __init__(self, data: Any, **named: Any) -> None:
        super().__init__(data, initial={"entry_id": uuid4(), **named})


class Settles(forms.TypedMultipleChoiceField):
    """Planned reviews, by their id. Whether each is still planned is for the service: a form that is sent twice names
    what it has settled itself."""

    def __init__(self) -> None:
        super().__init__(
            label=gettext_lazy("Planned reviews that it settles"),
            widget=forms.CheckboxSelectMultiple,
            required=False,
            coerce=UUID,
        )

    def valid_value(self, value: Any) -> bool:
        """Any id."""
        return True


class ReviewForm(OnceForm):
    """Which falls it looked at, what came of it, which planned reviews it settles, and when to look again."""

    of = forms.MultipleChoiceField(
        label=gettext_lazy("Falls that it looked at"), widget=forms.CheckboxSelectMultiple, required=False
    )
    outcome = forms.ChoiceField(
        label=gettext_lazy("Outcome"), choices=OUTCOMES, widget=forms.RadioSelect, required=False
    )
    settles = Settles()
    next_due = forms.DateField(label=gettext_lazy("Look again on"), widget=DayInput, required=False)
    note = forms.CharField(
        label=gettext_lazy("What it found"), max_length=4000, widget=forms.Textarea(attrs={"rows": 4}), required=False
    )

    def __init__(
        self, data: Any, *, falls: Iterable[tuple[str, str]], planned: Sequence[tuple[str, str, bool]]
    ) -> None:
        falls = list(falls)
        super().__init__(data, of=[key for key, _ in falls], settles=[key for key, _, own in planned if own])
        self.fields["settles"].choices = [(key, words) for key, words, _ in planned]  # type: ignore[attr-defined]  # has choices
        if not planned:
            self.fields["settles"].widget = forms.MultipleHiddenInput()
        if not falls:
            del self.fields["of"], self.fields["outcome"]
        else:
            self.fields["of"].choices = falls  # type: ignore[attr-defined]  # a field with choices

    def clean(self) -> dict[str, Any]:
        """An outcome belongs to falls, and falls to an outcome."""
        said: dict[str, Any] = super().clean() or {}
        of, outcome = [UUID(key) for key in said.get("of", ())], said.get("outcome") or None
        if of and not outcome:
            self.add_error("outcome", _("Say whether they are cleared to train what the fall was about."))
        if outcome and not of:
            self.add_error("of", _("Name the falls that it looked at, or leave the outcome out."))
        return {**said, "of": of, "outcome": outcome}


class DischargeForm(OnceForm):
    """Why the episode ends."""

    reason = forms.CharField(
        label=gettext_lazy("Why, and what was reached"), max_length=4000, widget=forms.Textarea(attrs={"rows": 3})
    )
