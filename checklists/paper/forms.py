"""The rows of a sheet that is entered afterwards: what is typed, and whether a row says enough to be judged at all.

What a row means, and whether it holds, the write path decides; here stands only what must be filled in.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, cast
from uuid import uuid4

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, gettext_noop

from checklists.floor import words
from checklists.floor.config import protocol_part
from checklists.pictures.words import HELP, RESULT, SUPPORT
from checklists.words import Spoken
from checklists.words.tables import worded
from clinic.web.acts import DayInput, TimeOfDayInput

FIRST, MORE, MOST = 8, 6, 40  # rows at first, by a press of “more rows”, and at all
NEEDED = {
    "attempt": ("skill", "support", "help", "result"),
    "fall": ("injury",),
    "mode_set:free_swing": ("support",),
}
WHAT = Spoken(
    {
        "skill": gettext_noop("Say which skill was tried."),
        "support": gettext_noop("Say with which support."),
        "help": gettext_noop("Say with which help."),
        "result": gettext_noop("Say how it went: safe, unsafe or stopped."),
        "injury": gettext_noop("Say how bad the injury was; none is an answer."),
    }
)
Choices = list[tuple[str, str]]


class DayForm(forms.Form):
    """The day of the sheet."""

    day = forms.DateField(label=gettext_lazy("Day of the sheet"), widget=DayInput())


class RowForm(forms.Form):
    """One line of the sheet. A row in which nothing is typed is no row."""

    id = forms.UUIDField(required=False, widget=forms.HiddenInput)
    time = forms.TimeField(required=False, label=gettext_lazy("Time"), widget=TimeOfDayInput())
    kind = forms.ChoiceField(required=False, label=gettext_lazy("What"))
    skill = forms.ChoiceField(required=False, label=gettext_lazy("Skill"))
    support = forms.ChoiceField(required=False, label=gettext_lazy("Support"))
    help = forms.ChoiceField(required=False, label=gettext_lazy("Help"))
    result = forms.ChoiceField(required=False, label=gettext_lazy("Result"))
    deviations = forms.MultipleChoiceField(
        required=False, label=gettext_lazy("Deviations"), widget=forms.CheckboxSelectMultiple
    )
    bad = forms.MultipleChoiceField(
        required=False, label=gettext_lazy("Found not good"), widget=forms.CheckboxSelectMultiple
    )
    undone = forms.MultipleChoiceField(
        required=False, label=gettext_lazy("Not done"), widget=forms.CheckboxSelectMultiple
    )
    injury = forms.ChoiceField(required=False, label=gettext_lazy("Injury"))
    knee = forms.ChoiceField(required=False, label=gettext_lazy("Knee"))
    measure = forms.ChoiceField(required=False, label=gettext_lazy("Number of"))
    value = forms.FloatField(required=False, label=gettext_lazy("Number"))
    note = forms.CharField(
        required=False, max_length=1000, label=gettext_lazy("Note; of a fall, what happened and what was done")
    )
    MORE_OF_IT = ("deviations", "bad", "undone", "injury", "knee", "measure", "value", "note")

    def __init__(self, *args: Any, choices: Mapping[str, Choices], **more: Any) -> None:
        super().__init__(*args, **more)
        self.label_suffix = ""
        for name, options in choices.items():
            field = cast("forms.ChoiceField", self.fields[name])
            several = isinstance(field, forms.MultipleChoiceField)
            field.choices = options if several else [("", "–"), *options]

    def clean(self) -> dict[str, Any]:
        """Time, kind and what the kind needs; nothing is asked of an empty row."""
        said: dict[str, Any] = super().clean() or {}
        if not self.typed:
            return said
        if not said.get("id"):
            self.add_error(None, _("This row has lost its number: type it into another row."))
        if not said.get("time") and "time" not in self.errors:
            self.add_error("time", _("Say at what time; as near as the sheet tells."))
        if not said.get("kind") and "kind" not in self.errors:
            self.add_error("kind", _("Say what it was."))
        for name in NEEDED.get(said.get("kind", ""), ()):
            if not said.get(name) and name not in self.errors:
                self.add_error(name, WHAT[name])
        if bool(said.get("measure")) != (said.get("value") is not None) and "value" not in self.errors:
            self.add_error("value", _("A number needs both: what was measured, and how much."))
        return said

    @property
    def typed(self) -> bool:
        """Whether anything was typed or chosen here."""
        return any(bound.data not in (None, "", []) for bound in self if bound.name != "id")

    @property
    def open(self) -> bool:
        """Whether the row shows what most rows do not need."""
        return any(self[name].data not in (None, "", []) or self[name].errors for name in self.MORE_OF_IT)

    @property
    def above(self) -> list[forms.BoundField]:
        """The columns of the table."""
        return [self[name] for name in ("time", "kind", "skill", "support", "help", "result")]

    @property
    def below(self) -> list[forms.BoundField]:
        """What most rows do not need."""
        return [self[name] for name in self.MORE_OF_IT]


def choices_of(document: Mapping[str, Any], side: str) -> dict[str, Choices]:
    """What each field offers: the words of the person's protocol and ladder."""
    part = protocol_part(document, side)
    steps = dict.fromkeys(step for steps in part["checks"].values() for step in steps)
    checks = [(f"check:{key}", words.CHECKS.get(key, key.replace("_", " "))) for key in part["checks"]]
    modes = [
        (f"mode_set:{key}", _("Knee set to {mode}").format(mode=words.MODE[key].lower()))
        for key in ("walking", "locked", "free_swing")
    ]
    told = [("attempt", _("Attempt")), *checks, *modes, ("fall", _("Fall")), ("near_miss", _("Near miss"))]
    return {
        "kind": [*told, ("session_opened", _("Session opened")), ("session_closed", _("Session closed"))],
        "skill": [(skill["key"], skill["name"]) for skill in part["skills"]],
        "support": [(key, SUPPORT[key][1] if key in SUPPORT else key) for key in part["support"]],
        "help": [(key, HELP.get(key, key)) for key in part["help"]],
        "result": list(RESULT.items()),
        "deviations": [(one["key"], one["name"]) for one in part["deviations"]],
        "bad": [(step, words.STEPS.get(step, step)) for step in steps],
        "undone": [(step, words.STEPS.get(step, step)) for step in steps],
        "injury": list(words.INJURY.items()),
        "knee": [(key, worded(key, "side")) for key in ("left", "right")] if side == "both" else [],
        "measure": [(one["key"], f"{one['name']}{one['suffix']}") for one in part["measures"]],
    }


def rows(choices: Mapping[str, Choices], data: Mapping[str, Any] | None, count: int) -> list[RowForm]:
    """So many rows; what was typed stays, and a row that is shown for the first time gets its id."""
    return [_row(number, choices, data) for number in range(count)]


def _row(number: int, choices: Mapping[str, Choices], data: Any) -> RowForm:
    prefix = f"row{number}"
    if data is None or f"{prefix}-id" not in data:
        return RowForm(choices=choices, prefix=prefix, initial={"id": uuid4()})
    return RowForm(data, choices=choices, prefix=prefix)


def count_of(data: Mapping[str, Any]) -> int:
    """How many rows were sent."""
    text = str(data.get("rows", ""))
    return min(int(text), MOST) if text.isascii() and text.isdecimal() and len(text) < 4 else FIRST


def filled(forms_: Iterable[RowForm]) -> list[RowForm]:
    """The rows in which something was typed."""
    return [form for form in forms_ if form.is_bound and form.typed]
