"""Which mode each knee is in, and whether that was proven: common practice, no source.

The knee does not report its mode; the record knows what staff saw and did. Setting a mode and proving it are two facts.
The mode is what the last *mode event* says: a setting, a check of the mode, a change of knee (what was known of the old
one is void), and those checklists that show a mode, listed in MODE_CHECKS and nowhere else.
"""

from collections.abc import Mapping
from typing import Any, NamedTuple


class ModeCheck(NamedTuple):
    """How a checklist shows a mode: `steps` are those that show it, None for all of the checklist's.

    It proves the mode when all of them are true and fails when one is false. Otherwise an incomplete one counts as a
    setting of its mode where `sets`, and as nothing where not.
    """

    mode: str
    steps: tuple[str, ...] | None
    sets: bool


MODE_CHECKS: dict[str, ModeCheck] = {
    "start_of_session": ModeCheck("walking", ("mode",), sets=False),
    "end_of_session": ModeCheck("walking", ("mode",), sets=False),
    "lock_out": ModeCheck("walking", None, sets=True),
    "free_swing_off": ModeCheck("walking", None, sets=True),
    "lock_in": ModeCheck("locked", None, sets=True),
    "free_swing_on": ModeCheck("free_swing", ("on",), sets=False),
}
"""Checklist → the mode that it shows. A protocol that has other checklists shows modes by `mode_checked` alone."""

LEFT, RIGHT = 1, 2


class ModeEvent(NamedTuple):
    """What an entry says of a knee's mode: proof is `proven`, `set`, `failed`, or None (nothing is known any more)."""

    mode: str | None
    proof: str | None
    knees: int  # which of two: LEFT, RIGHT or both bits


class KneeState(NamedTuple):
    """The mode of a knee as the record knows it. `knee` is None for the only one; `mode` None: nothing is known."""

    knee: str | None
    mode: str | None
    proof: str | None
    at: str | None
    by: str | None


def mode_event(fields: Mapping[str, Any], steps: tuple[str, ...], per_knee: bool, both: bool) -> ModeEvent | None:
    """What an entry with these fields says; `steps` and `per_knee` are those of its checklist, where it is a check."""
    kind, knee = fields["kind"], fields.get("knee")
    knees = {"left": LEFT, "right": RIGHT}.get(knee or "", LEFT | RIGHT) if both else LEFT | RIGHT
    unsaid = both and knee is None
    if kind == "mode_set":
        return ModeEvent(fields["mode"], "set", knees)
    if kind == "mode_checked":
        # Of two knees, a check that names none says what was found and proves nothing (SEMANTICS.md §3, 'Two knees').
        proof = "failed" if not fields["ok"] else "set" if unsaid else "proven"
        return ModeEvent(fields["mode"], proof, knees)
    if kind == "setting_changed" and fields["setting"] == "knee":
        return ModeEvent(None, None, knees)
    if kind == "check" and fields["name"] in MODE_CHECKS:
        found = _shown(MODE_CHECKS[fields["name"]], fields["steps"], steps)
        if found and not (per_knee and unsaid and False not in fields["steps"].values()):
            return ModeEvent(MODE_CHECKS[fields["name"]].mode, found, knees)
    return None


def _shown(check: ModeCheck, done: Mapping[str, bool], steps: tuple[str, ...]) -> str | None:
    asked = steps if check.steps is None else check.steps
    if any(done.get(step) is False for step in asked):
        return "failed"
    if all(done.get(step) is True for step in asked):
        return "proven"
    return "set" if check.sets else None
