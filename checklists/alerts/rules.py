"""The words of every rule that can raise an alert: the document's, the built-in ones, and those that only the server
knows."""

from __future__ import annotations

from typing import NamedTuple

from checklists.domain import BUILTIN_RULES, Protocol

UNAUTHORISED_SIGN_OFF = "unauthorised_sign_off"
REFUSED_DANGER = "refused_danger"
UNSUPPORTED_SIGN_OFF = "unsupported_sign_off"  # of the built-in ones that a sign-off is carried by its evidence
SIGN_OFF_RULES = frozenset({UNAUTHORISED_SIGN_OFF, UNSUPPORTED_SIGN_OFF})  # that ask to look at a sign-off again
FALL_UNREVIEWED = "fall_unreviewed"  # of the built-in ones that a fall is looked at in time (SEMANTICS.md §4)


class Words(NamedTuple):
    """What a rule says, and what to do now."""

    sentence: str
    do_now: str


SERVER_RULES = {
    UNAUTHORISED_SIGN_OFF: Words(
        "Only somebody with a current registration, and the authorisation for each knee feature involved, signs off.",
        "Look at the sign-off with whoever gave it. Withdraw it, or have somebody with authority sign on the evidence.",
    ),
    REFUSED_DANGER: Words(
        "A fall or an unsafe attempt was sent and could not be taken into the record.",
        "Read what was refused and why, see to the person, and have it recorded again.",
    ),
}


def words_of(protocol: Protocol, rule: str) -> Words:
    """The words of a rule. One that the document no longer has is named by its key."""
    if rule in SERVER_RULES:
        return SERVER_RULES[rule]
    found = protocol.rules.get(rule) or BUILTIN_RULES.get(rule)
    return Words(found.sentence, found.do_now) if found else Words(f"Rule {rule}.", "Ask a clinic lead.")
