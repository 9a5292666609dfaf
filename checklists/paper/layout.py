"""The rows of the page in the order of the printed sheet (paper/blank.html), and which fields each kind of row has."""

from __future__ import annotations

from collections.abc import Collection, Mapping

from checklists.words import Spoken, pgettext_noop

ATTEMPTS = 6  # blank lines of the printed sheet
BEFORE, AFTER = ("check:start_of_session", "check:lock_in", "check:lock_out"), ("fall", "check:end_of_session")
EXTRA = "attempt"  # what a row beyond the printed ones most often is
TOGETHER = {"fall": ("fall", "near_miss")}  # one line of the printed sheet
MARKS = "marks"  # one field a step of the check
FIELDS = {
    "attempt": ("skill", "support", "help", "result"),
    "check": ("knee", MARKS, "note"),
    "mode_set": ("knee", "support", "note"),
    "fall": ("skill", "injury", "note"),
    "near_miss": ("skill", "note"),
}
FOLDED = {"attempt": ("deviations", "measure", "value", "note")}  # what most attempts do not need
ORDER = ("skill", "support", "help", "result", "knee", MARKS, "injury", "note")
PAPER = Spoken(  # what stands in the box of a step: the legend of the printed sheet, and the answers of the page
    {
        "good": pgettext_noop("on paper", "✓ good"),
        "bad": pgettext_noop("on paper", "✗ not good"),
        "undone": pgettext_noop("on paper", "empty: not done"),
    },
    "on paper",
)


def printed(kinds: Collection[str]) -> list[str]:
    """The kind of each row of the sheet, as far as the person's protocol has it."""
    return [kind for kind in (*BEFORE, *[EXTRA] * ATTEMPTS, *AFTER) if kind in kinds]


def has_words(kind: str) -> bool:
    """Whether a row of this kind has a field for words."""
    return any("note" in table.get(kind.partition(":")[0], ()) for table in (FIELDS, FOLDED))


def fields_of(kinds: Collection[str], table: Mapping[str, tuple[str, ...]] = FIELDS) -> dict[str, list[str]]:
    """The fields of a row that may be of these kinds, in the order of the sheet: name → of which kinds it is."""
    found: dict[str, list[str]] = {}
    for kind in dict.fromkeys(kind.partition(":")[0] for kind in kinds):
        for name in table.get(kind, ()):
            found.setdefault(name, []).append(kind)
    return dict(sorted(found.items(), key=lambda one: ORDER.index(one[0]) if one[0] in ORDER else len(ORDER)))
