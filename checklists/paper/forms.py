"""The rows of a sheet that is entered afterwards: what is typed, and whether a row says enough to be judged at all.
Each row of the printed sheet asks for the fields of its own kind only (layout.py).

What a row means, and whether it holds, the write path decides; here stands only what must be filled in.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, cast
from uuid import uuid4

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, gettext_noop

from checklists.floor import words
from checklists.floor.config import protocol_part
from checklists.paper import layout
from checklists.pictures.words import HELP, RESULT, SUPPORT
from checklists.words import Spoken
from checklists.words.tables import worded
from clinic.web.acts import DayInput, TimeOfDayInput

MORE, MOST = 6, 40  # rows by a press of “more rows”, and at all
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
SEVERAL = ("deviations",)


@dataclass(frozen=True, slots=True)
class Offer:
    """What each field offers, the steps of each check, and those steps in words. `of_one_knee`: the kinds that tell of
    one knee where there are two; the others tell of both at once, as on the Floor."""

    choices: Mapping[str, Choices]
    steps: Mapping[str, Sequence[str]]
    named: Mapping[str, str]
    of_one_knee: Sequence[str] = ()

    @property
    def printed(self) -> list[str]:
        """The kinds of the rows of the printed sheet."""
        return layout.printed(dict(self.choices["kind"]))


@dataclass(frozen=True, slots=True)
class Shown:
    """A field of a row, and of which kinds of row it is: nothing where of all. `boxes`: what there is to tick."""

    bound: forms.BoundField
    of: str
    boxes: Sequence[Any] = ()


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
    injury = forms.ChoiceField(required=False, label=gettext_lazy("Injury"))
    knee = forms.ChoiceField(required=False, label=gettext_lazy("Knee"))
    measure = forms.ChoiceField(required=False, label=gettext_lazy("Number of"))
    value = forms.FloatField(required=False, label=gettext_lazy("Number"))
    note = forms.CharField(
        required=False, max_length=1000, label=gettext_lazy("Note; of a fall, what happened and what was done")
    )

    def __init__(self, *args: Any, offer: Offer, own: str = "", **more: Any) -> None:
        """`own`: what the row is on the printed sheet; nothing for one more."""
        super().__init__(*args, **more)
        self.label_suffix, self.offer, self.own = "", offer, own
        for name, options in offer.choices.items():
            field = cast("forms.ChoiceField", self.fields[name])
            nothing = _("which one?") if name == "knee" else "–"
            field.choices = options if name in SEVERAL else [("", nothing), *options]
        self.fields["kind"].initial = own or layout.EXTRA
        for step in self.steps:
            self.fields[f"mark_{step}"] = forms.ChoiceField(
                required=False, label=offer.named[step], choices=list(layout.PAPER.items()), widget=forms.RadioSelect
            )
        if len(self.kinds) < 3:
            self.fields["note"].label = _("What happened, what was done") if len(self.kinds) == 2 else _("Note")

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
        self._read_marks(said)
        return said

    def _read_marks(self, said: dict[str, Any]) -> None:
        """The steps of the check as `steps`, those not done left out; a step without an answer is asked for by name."""
        kind, _colon, check = said.get("kind", "").partition(":")
        steps = self.offer.steps.get(check, ()) if kind == "check" else ()
        marks = {step: said.get(f"mark_{step}", "") for step in steps}
        open_ = [self.offer.named[step] for step in steps if not marks[step]]
        if open_:
            self.add_error(None, _("Say what stands on the paper: {steps}.").format(steps=", ".join(open_)))
        said["steps"] = {step: mark == "good" for step, mark in marks.items() if mark in ("good", "bad")}

    @property
    def typed(self) -> bool:
        """Whether anything was typed or chosen here; that a row is what it is on the sheet says nothing yet."""
        preset = {"kind": self.fields["kind"].initial}
        return any(bound.data not in (None, "", [], preset.get(bound.name)) for bound in self if bound.name != "id")

    @property
    def steps(self) -> list[str]:
        """The steps of the checks that this row may be."""
        checks = [kind.partition(":")[2] for kind in self.kinds if kind.startswith("check:")]
        return list(dict.fromkeys(step for check in checks for step in self.offer.steps[check]))

    @property
    def kinds(self) -> Sequence[str]:
        """What this row may be: what it is on the sheet; anything where it is one more, or something else was sent."""
        own = layout.TOGETHER.get(self.own, (self.own,))
        return (
            own if self.own and self["kind"].value() in ("", *own) else [key for key, _ in self.offer.choices["kind"]]
        )

    @property
    def title(self) -> str:
        """What stands above the row."""
        kinds = self.kinds
        if len(kinds) > 2:
            return _("Another row")
        return _("Fall or near miss") if len(kinds) == 2 else dict(self.offer.choices["kind"])[kinds[0]]

    @property
    def kind_choices(self) -> Choices:
        """The kinds to choose from; none where there is only one."""
        kinds = self.kinds
        return [one for one in self.offer.choices["kind"] if one[0] in kinds] if len(kinds) > 1 else []

    @property
    def shown(self) -> list[Shown]:
        """The fields of the row, as the sheet has them."""
        return self._shown(layout.FIELDS)

    @property
    def folded(self) -> list[Shown]:
        """What most rows of this kind do not need."""
        there = layout.fields_of(self.kinds)
        return [one for one in self._shown(layout.FOLDED) if one.bound.name not in there]

    @property
    def open(self) -> bool:
        """Whether the row shows what most rows do not need."""
        return any(one.bound.value() not in (None, "", []) or one.bound.errors for one in self.folded)

    def _shown(self, table: Mapping[str, tuple[str, ...]]) -> list[Shown]:
        found = []
        for name, of in layout.fields_of(self.kinds, table).items():
            if name == layout.MARKS:
                found += [self._mark(step) for step in self.steps]
            elif name == "knee":
                found += self._knee(of)
            else:
                boxes = list(self[name]) if name in SEVERAL else ()
                found.append(Shown(self[name], "" if name == "note" else " ".join(of), boxes))
        return found

    def _knee(self, of: Sequence[str]) -> list[Shown]:
        """Which knee, where there are two and the row is told of one of them, or names one already."""
        asked = list(of) if self["knee"].value() else [kind for kind in self.offer.of_one_knee if kind in self.kinds]
        return [Shown(self["knee"], " ".join(asked))] if asked and self.offer.choices["knee"] else []

    def _mark(self, step: str) -> Shown:
        """What the paper may show of a step, and of which checks it is one."""
        of = [f"check:{check}" for check, steps in self.offer.steps.items() if step in steps]
        return Shown(self[f"mark_{step}"], " ".join(of), list(self[f"mark_{step}"]))


def offer_of(document: Mapping[str, Any], side: str) -> Offer:
    """What each field offers: the words of the person's protocol and ladder."""
    part = protocol_part(document, side)
    steps = dict.fromkeys(step for steps in part["checks"].values() for step in steps)
    both = side == "both"
    per_knee = {check["key"] for check in document.get("checks", ()) if check.get("per_knee")}
    checks = [(f"check:{key}", _check(key, both=both and key not in per_knee)) for key in part["checks"]]
    modes = [
        (f"mode_set:{key}", _("Knee set to {mode}").format(mode=words.MODE[key].lower()))
        for key in ("walking", "locked", "free_swing")
    ]
    told = [("attempt", _("Attempt")), *checks, *modes, ("fall", _("Fall")), ("near_miss", _("Near miss"))]
    choices = {
        "kind": [*told, ("session_opened", _("Session opened")), ("session_closed", _("Session closed"))],
        "skill": [(skill["key"], skill["name"]) for skill in part["skills"]],
        "support": [(key, SUPPORT[key][1] if key in SUPPORT else key) for key in part["support"]],
        "help": [(key, HELP.get(key, key)) for key in part["help"]],
        "result": list(RESULT.items()),
        "deviations": [(one["key"], one["name"]) for one in part["deviations"]],
        "injury": list(words.INJURY.items()),
        "knee": [(key, worded(key, "side")) for key in ("left", "right")] if both else [],
        "measure": [(one["key"], f"{one['name']}{one['suffix']}") for one in part["measures"]],
    }
    named = {step: words.STEPS.get(step, step) for step in steps}
    own = [key for key, _words in (*checks, *modes) if key.startswith("mode_set:") or key.partition(":")[2] in per_knee]
    return Offer(choices, part["checks"], named, own if both else ())


def _check(key: str, *, both: bool) -> str:
    """A check in words; one that is told of two knees at once says so."""
    name = words.CHECKS.get(key, key.replace("_", " "))
    return _("{check}, both knees").format(check=name) if both else name


def rows(offer: Offer, data: Mapping[str, Any] | None, count: int) -> list[RowForm]:
    """So many rows, first those of the printed sheet; what was typed stays, and a row that is shown for the first time
    gets its id."""
    own = offer.printed
    return [_row(number, offer, own[number] if number < len(own) else "", data) for number in range(count)]


def _row(number: int, offer: Offer, own: str, data: Any) -> RowForm:
    prefix = f"row{number}"
    if data is None or f"{prefix}-id" not in data:
        return RowForm(offer=offer, own=own, prefix=prefix, initial={"id": uuid4()})
    return RowForm(data, offer=offer, own=own, prefix=prefix)


def row_again(offer: Offer, typed: Mapping[str, Any]) -> RowForm | None:
    """One row in which something stands already; nothing where the sheet has no such row."""
    kind = typed.get("kind")
    if kind not in dict(offer.choices["kind"]):
        return None
    own = next((own for own, kinds in layout.TOGETHER.items() if kind in kinds), kind)
    row = RowForm(offer=offer, own=own, prefix="row0", initial={"id": uuid4(), **typed})
    exact = forms.TimeInput(attrs={"type": "time", "step": "1"}, format="%H:%M:%S")  # it keeps its place in its minute
    row.fields["time"].widget = exact
    return row


def count_of(data: Mapping[str, Any], offer: Offer) -> int:
    """How many rows were sent."""
    text = str(data.get("rows", ""))
    said = text.isascii() and text.isdecimal() and len(text) < 4
    return min(int(text), MOST) if said else len(offer.printed)


def filled(forms_: Iterable[RowForm]) -> list[RowForm]:
    """The rows in which something was typed."""
    return [form for form in forms_ if form.is_bound and form.typed]
