"""Closed lists of the record in words, for pages that show the value itself: {{ value|worded:"severity" }}."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from checklists.pictures.words import MODE, PROOF, RESULT, STATUS
from checklists.words.sentences import said
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
KNEE = Spoken({"left": gettext_noop("left knee"), "right": gettext_noop("right knee"), "": gettext_noop("knee")})
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
_MARKS = Spoken({"waiting": gettext_noop("waits"), "good": gettext_noop("good"), "stop": gettext_noop("declined")})


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


def protocol_words(document: Mapping[str, Any]) -> str:
    """A protocol as pages name it: title and version."""
    return _("{title}, version {version}").format(title=said(document["title"]), version=document["version"])


def worded(key: str, table: str) -> str:
    """A value of a closed list in the reader's words; one that the list does not have stands as it is."""
    if table == "mark":
        return _mark(key)
    words = _TABLES[table]
    return words[key] if key in words else key.replace("_", " ")
