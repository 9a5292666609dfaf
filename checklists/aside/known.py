"""Which words a refused field would have taken: for whoever enters it again."""

from __future__ import annotations

import re
from collections.abc import Mapping

from checklists.pictures import names
from checklists.pictures.words import HELP, MODE, RESULT, RUNGS
from checklists.words.tables import INJURY, KNEE, OUTCOME, SIDE

# by what the refusal calls it (checklists/domain/entry_check.py), which is English whoever reads
_LISTS: Mapping[str, Mapping[str, str]] = {
    "injury": INJURY,
    "help": HELP,
    "mode": MODE,
    "result": RESULT,
    "support": RUNGS,
    "skill": names.SKILLS,
    "deviation": names.DEVIATIONS,
    "outcome": OUTCOME,
    "side": SIDE,
    "knee": KNEE,
}
_UNKNOWN = re.compile(r"\w+: unknown (\w+) '")


def known_words(error: str) -> str:
    """The words of the list in which a refused one was not found; nothing where the refusal is about something else."""
    found = _UNKNOWN.match(error)
    words = _LISTS.get(found[1], {}) if found else {}
    return ", ".join(word for key, word in words.items() if key)
