"""The parts of an archive in words: how far it is, as its page tells it while it is made."""

from __future__ import annotations

from checklists.words import Spoken, pgettext_noop

# The table and the file keep the English words; only who reads the page reads others.
STEPS = Spoken(
    {
        "the record": pgettext_noop("part of an archive", "the record"),
        "protocols": pgettext_noop("part of an archive", "protocols"),
        "statuses": pgettext_noop("part of an archive", "statuses"),
        "done": pgettext_noop("part of an archive", "done"),
        "person": pgettext_noop("part of an archive", "person"),
        "weights": pgettext_noop("part of an archive", "weights"),
        "referrals": pgettext_noop("part of an archive", "referrals"),
        "episodes": pgettext_noop("part of an archive", "episodes"),
        "pauses": pgettext_noop("part of an archive", "pauses"),
        "assignments": pgettext_noop("part of an archive", "assignments"),
        "covers": pgettext_noop("part of an archive", "covers"),
        "visits": pgettext_noop("part of an archive", "visits"),
        "reviews": pgettext_noop("part of an archive", "reviews"),
        "requests": pgettext_noop("part of an archive", "requests"),
        "emergency access": pgettext_noop("part of an archive", "emergency access"),
        "prostheses": pgettext_noop("part of an archive", "prostheses"),
        "components": pgettext_noop("part of an archive", "components"),
        "reception": pgettext_noop("part of an archive", "reception"),
        "signed": pgettext_noop("part of an archive", "signed"),
        "signatures": pgettext_noop("part of an archive", "signatures"),
        "refused": pgettext_noop("part of an archive", "refused"),
        "held": pgettext_noop("part of an archive", "held"),
        "alerts": pgettext_noop("part of an archive", "alerts"),
        "steps": pgettext_noop("part of an archive", "steps"),
        "trail": pgettext_noop("part of an archive", "trail"),
        "staff": pgettext_noop("part of an archive", "staff"),
    },
    "part of an archive",
)


def step_words(step: str) -> str:
    """A part in the reader's words; one that the table does not have as it stands."""
    return STEPS.get(step, step)
