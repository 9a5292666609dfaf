"""Closed lists of the record in words, for pages that show the value itself: {{ value|worded:"severity" }}."""

from __future__ import annotations

from django.utils.translation import gettext_noop as _

from checklists.pictures.words import MODE, PROOF, RESULT, STATUS
from checklists.words.spoken import Spoken, pgettext_noop

SIDE = Spoken(
    {
        "left": pgettext_noop("side", "left"),
        "right": pgettext_noop("side", "right"),
        "both": pgettext_noop("side", "both"),
        "": pgettext_noop("side", "not known"),
    },
    "side",
)
KNEE = Spoken({"left": _("left knee"), "right": _("right knee"), "": _("knee")})
SEVERITY = Spoken(
    {
        "critical": pgettext_noop("severity", "critical"),
        "major": pgettext_noop("severity", "major"),
        "minor": pgettext_noop("severity", "minor"),
    },
    "severity",
)
ALERT = Spoken(
    {
        "waiting": pgettext_noop("alert", "waiting"),
        "answered": pgettext_noop("alert", "answered"),
        "withdrawn": pgettext_noop("alert", "withdrawn"),
    },
    "alert",
)
MEANING = Spoken(
    {
        "authorship": pgettext_noop("signature", "authorship"),
        "review": pgettext_noop("signature", "review"),
        "approval": pgettext_noop("signature", "approval"),
        "responsibility": pgettext_noop("signature", "responsibility"),
    },
    "signature",
)
INJURY = Spoken(
    {
        "none": pgettext_noop("injury", "none"),
        "minor": pgettext_noop("injury", "minor"),
        "moderate": pgettext_noop("injury", "moderate"),
        "serious": pgettext_noop("injury", "serious"),
    },
    "injury",
)
OUTCOME = Spoken(
    {
        "cleared": pgettext_noop("review of a fall", "cleared"),
        "not_cleared": pgettext_noop("review of a fall", "not cleared"),
    },
    "review of a fall",
)
ANSWER = Spoken(
    {"agreed": pgettext_noop("correction", "agreed"), "declined": pgettext_noop("correction", "declined")}, "correction"
)
_MARKS = Spoken({"waiting": _("waits"), "good": _("good"), "stop": _("declined")})


def _mark(key: str) -> str:
    """The word of a mark that a fact carries, whichever list it comes from."""
    found = next((words[key] for words in (RESULT, STATUS, SEVERITY, _MARKS) if key in words), None)
    return key.replace("_", " ") if found is None else found


_TABLES = {
    "alert": ALERT,
    "answer": ANSWER,
    "injury": INJURY,
    "knee": KNEE,
    "meaning": MEANING,
    "mode": MODE,
    "outcome": OUTCOME,
    "proof": PROOF,
    "result": RESULT,
    "severity": SEVERITY,
    "side": SIDE,
    "status": STATUS,
}


def worded(key: str, table: str) -> str:
    """A value of a closed list in the reader's words; one that the list does not have stands as it is."""
    if table == "mark":
        return _mark(key)
    words = _TABLES[table]
    return words[key] if key in words else key.replace("_", " ")
