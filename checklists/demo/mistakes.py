"""One mistake each, put into an ordinary session on purpose: every rule has been broken once in the demo's year.

Each waits for a session in which it fits and then does the one thing. Where the core's advice can tell (`only`)
it must say that this rule and no other would be broken.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

from checklists.demo.session import Session

Mistake = Callable[[Session], bool]
IN_HAND = ("stand_load", "bars_both", "stand_by")  # whatever is open, this is how everything begins
GOOD_LOCK = {"straight": True, "caught": True, "loaded": True}


def only(session: Session, rule: str, skill: str, support: str, help_: str) -> bool:
    """Make an attempt if it would break this rule and no other. True when it was made."""
    planned = {"kind": "attempt", "skill": skill, "support": support, "help": help_}
    advice = session.fold.advise(planned, at=session.at + timedelta(seconds=50), role=session.role)
    if {broken.rule for broken in advice.breaks} != {rule}:
        return False
    session.attempt(skill, support, help_)
    return True


def alone(session: Session) -> bool:
    """Left to stand by themselves before it is signed off."""
    return only(session, "alone", "stand_load", "bars_both", "alone")


def support_step(session: Session) -> bool:
    """A rung is left out."""
    return only(session, "support_step", "stand_load", "none", "watching")


def prerequisite(session: Session) -> bool:
    """Something is tried before what it builds on is signed off, with nobody at hand."""
    return only(session, "prerequisite", "weight_shift", "bars_both", "watching")


def feature(session: Session) -> bool:
    """A mode is tried that the knee has not got."""
    return only(session, "feature", "free_swing_use", "bars_both", "stand_by")


def lock_verified(session: Session) -> bool:
    """The lock is trusted before it is proven."""
    return _with_lock(session, trusted_unproven=True)


def walking_mode_proven(session: Session) -> bool:
    """The lock is released, and the knee is asked to bend before that is proven."""
    return _with_lock(session, trusted_unproven=False)


def _with_lock(session: Session, *, trusted_unproven: bool) -> bool:
    if session.fold.status_words(session.at)["lock_use"] == "not_applicable" or session.walker.side == "both":
        return False
    session.add("mode_set", mode="locked", support="bars_both")
    if trusted_unproven:
        session.attempt(*IN_HAND)
    session.add("check", after_s=30, name="lock_in", steps=GOOD_LOCK)
    session.add("mode_set", after_s=120, mode="walking", support="bars_both")
    if not trusted_unproven:
        session.attempt("sit_stand", "bars_both", "stand_by")
    session.add("check", after_s=30, name="lock_out", steps={"released": True, "bends": True})
    return True


def no_weight_in_free_swing(session: Session) -> bool:
    """Up from the bicycle with free swing still on: the gravest of all, saved by the hands on the bars."""
    return _with_free_swing(session, where="bars_both", stood=True)


def free_swing_proven_off(session: Session) -> bool:
    """Free swing is switched off, and nobody proves it before the first weight."""
    return _with_free_swing(session, where="bars_both", stood=False)


def free_swing_switched_on_safely(session: Session) -> bool:
    """Free swing is felt for the first time outside the bars."""
    felt = session.fold.status("free_swing_use", session.at).tried
    return not felt and _with_free_swing(session, where="none", stood=None)


def _with_free_swing(session: Session, *, where: str, stood: bool | None) -> bool:
    """`stood`: weight comes on while it is on, or (false) before it is proven off, or (nothing) only afterwards."""
    if session.fold.status_words(session.at)["free_swing_use"] == "not_applicable" or session.walker.side == "both":
        return False
    session.add("mode_set", mode="free_swing", support=where)
    session.add("check", after_s=20, name="free_swing_on", steps={"on": True})
    if stood:
        session.attempt(*IN_HAND, deviations=[], result="stopped")
    session.add("mode_set", after_s=120, mode="walking", support=where)
    if stood is False:
        session.attempt(*IN_HAND)
    session.add("check", after_s=40, name="free_swing_off", steps={"off": True, "loaded": True})
    return True


def failed_check_cleared(session: Session) -> bool:
    """The knee was not in walking mode as it should have been, and weight comes on before it is put right."""
    if session.walker.side == "both":
        return False
    session.add("mode_checked", mode="walking", ok=False)
    session.attempt(*IN_HAND, result="stopped")
    session.add("mode_checked", after_s=120, mode="walking", ok=True)
    return True


def first_stairs_down(session: Session) -> bool:
    """The first step down is taken on the wrong rail (which leaves out a rung as well)."""
    if session.fold.status_words(session.at)["stair_edge"] != "open" or not session.advised(
        "stair_edge", "contralateral_rail", "watching"
    ):
        return False
    session.attempt("stair_edge", "ipsilateral_rail", "watching", measures={"foot_contact": 40.0})
    return True


def contralateral_before_ipsilateral(session: Session) -> bool:
    """After one good walk down the slope the rail is changed; the clinic asks for three."""
    if session.fold.status_words(session.at)["ramp_down"] != "open" or not session.advised(
        "ramp_down", "contralateral_rail", "stand_by"
    ):
        return False
    session.attempt("ramp_down", "contralateral_rail", "stand_by")
    return only(session, "contralateral_before_ipsilateral", "ramp_down", "ipsilateral_rail", "watching")


def yield_proven_after_change(session: Session) -> bool:
    """After the resistance was changed, up the slope before anybody looked how the knee yields now."""
    return only(session, "yield_proven_after_change", "ramp_up", "contralateral_rail", "watching")


def assistant_limits(session: Session) -> bool:
    """An assistant begins something that was never tried before."""
    new = ("hip_drive", "weight_shift", "swing_release", "short_steps", "kneel")
    return any(only(session, "assistant_limits", skill, "bars_both", "stand_by") for skill in new)


def fall_review(session: Session) -> bool:
    """A fall in the bars, and straight on with the same skill."""
    if session.fold.status_words(session.at)["stand_load"] != "signed_off":
        return False
    session.attempt("stand_load", "bars_both", "watching", "unsafe", deviations=["bent_hip"])
    fall = {
        "injury": "none",
        "circumstances": "Slid down between the bars, onto the mat.",
        "action": "Helped up, rested.",
    }
    session.add("fall", after_s=0, skill="stand_load", **fall)
    session.attempt("stand_load", "bars_both", "watching")
    return True


def gap(session: Session) -> bool:
    """Back after five weeks, and straight to walking without support."""
    return only(session, "gap", "even_walk", "none", "watching")


# What can go wrong between the start check and the end check. `start_check` itself is the desk's: it comes before both.
MISTAKES: dict[str, Mistake] = {
    made.__name__: made
    for made in (
        alone, support_step, prerequisite, feature, lock_verified, walking_mode_proven, no_weight_in_free_swing,
        free_swing_proven_off, free_swing_switched_on_safely, failed_check_cleared, first_stairs_down,
        contralateral_before_ipsilateral, yield_proven_after_change, assistant_limits, fall_review, gap,
    )
}  # fmt: skip  # a table, read by row
