"""The kinds of entries with their fields, and every closed list that the contract itself gives (SEMANTICS.md §1).

This one table serves reading, refusing, the atoms of formulas and the schema of the API.
"""

from typing import NamedTuple

FEATURES = ("lock", "free_swing", "yielding", "resistance")
SETTINGS = ("resistance", "alignment", "socket", "foot", "knee", "footwear")
SEVERITIES = ("critical", "major", "minor")
STATUSES = ("not_applicable", "suspended", "lapsed", "signed_off", "blocked", "ready", "training", "open")

CHOICES: dict[str, tuple[str, ...]] = {
    "role": ("clinic_lead", "therapist", "prosthetist", "assistant"),
    "side": ("left", "right", "both"),
    "knee": ("left", "right"),
    "rail": ("left", "right"),
    "mode": ("walking", "locked", "free_swing"),
    "result": ("safe", "unsafe", "stopped"),
    "setting": SETTINGS,
    "injury": ("none", "minor", "moderate", "serious"),
    "outcome": ("cleared", "not_cleared"),
    "answer": ("agreed", "declined"),
    "features": FEATURES,
}
"""Field → the values that it may have."""


class Field(NamedTuple):
    """One field of an entry. `type` is text, id, ids, instant, date, number, integer, flag, choice, choices, override,
    measures, or a word of the protocol: skill, support, help, deviations, check, steps."""

    name: str
    type: str
    required: bool = True

    @property
    def choices(self) -> tuple[str, ...]:
        """The closed list of the contract, where there is one."""
        return CHOICES.get(self.name, ())


def _may(name: str, type_: str) -> Field:
    return Field(name, type_, required=False)


COMMON = (
    Field("id", "id"),
    Field("episode", "text"),
    Field("kind", "kind"),
    Field("at", "instant"),
    _may("seq", "integer"),
    Field("by", "text"),
    _may("role", "choice"),
    _may("note", "text"),
    _may("clock_offset_s", "number"),
)
_KNEE, _SKILL = _may("knee", "choice"), Field("skill", "skill")
_STORY = (_may("circumstances", "text"), _may("action", "text"))

KINDS: dict[str, tuple[Field, ...]] = {
    "episode_opened": (Field("side", "choice"), Field("features", "choices"), Field("protocol", "text")),
    "session_opened": (),
    "setting_changed": (
        Field("setting", "choice"), _may("from", "text"), _may("to", "text"), _may("features", "choices"), _KNEE,
    ),
    "mode_set": (Field("mode", "choice"), _may("support", "support"), _KNEE),
    "check": (Field("name", "check"), Field("steps", "steps"), _KNEE),
    "mode_checked": (Field("mode", "choice"), Field("ok", "flag"), _KNEE),
    "attempt": (
        _SKILL, Field("support", "rung"), Field("help", "help"), Field("result", "choice"),
        _may("deviations", "deviations"), _may("measures", "measures"), _may("rail", "choice"),
        _may("began", "instant"), _may("despite", "text"),
    ),
    "fall": (_may("skill", "skill"), Field("injury", "choice"), *_STORY),
    "near_miss": (_may("skill", "skill"), *_STORY),
    "review": (_may("of", "ids"), _may("outcome", "choice"), _may("next_due", "date")),
    "sign_off": (
        _SKILL, _may("override", "override"), _may("statement", "text"), _may("evidence", "text"),
        _may("protocol", "text"),
    ),
    "sign_off_withdrawn": (_SKILL, _may("reason", "text")),
    "session_closed": (),
    "episode_closed": (_may("reason", "text"),),
    "struck_out": (Field("entry", "id"), Field("reason", "text")),
    "correction_requested": (_may("entry", "id"), Field("text", "text"), Field("asked_by", "text")),
    "correction_answered": (
        Field("request", "id"), Field("answer", "choice"), _may("struck", "ids"), _may("added", "ids"),
        _may("reason", "text"),
    ),
}  # fmt: skip  # a table, read by row
"""Kind → its own fields.

The order is that of SEMANTICS.md §1 for kinds that tie in time; the opening stands before all.
"""

RANK = {kind: place for place, kind in enumerate(KINDS)}
FIELDS = {kind: {field.name: field for field in (*COMMON, *own)} for kind, own in KINDS.items()}
"""Kind → field name → field, the common ones included."""
BESIDE = frozenset({"correction_requested", "correction_answered"})
"""Kinds that stand beside the record: no rule, no status and no report's instant sees them (SEMANTICS.md §8)."""
UNJUDGED = BESIDE | {"struck_out"}  # in no rule's sequence
WITH_SKILL = frozenset(kind for kind, fields in FIELDS.items() if "skill" in fields)


def defaults(kind: object) -> dict[str, object]:
    """What SEMANTICS.md §1 fills in for fields that an entry of this kind leaves out."""
    filled: dict[str, object] = {"seq": 0}
    if kind == "attempt":
        filled |= {"deviations": [], "measures": {}}
    elif kind == "review":
        filled["of"] = []
    elif kind == "correction_answered":
        filled |= {"struck": [], "added": []}
    return filled
