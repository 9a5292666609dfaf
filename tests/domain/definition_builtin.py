"""The built-in rules: SEMANTICS.md section 4, one function a row of its table (naive reference implementation)."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

from tests.domain.definition_fold import Entry, Fold, day, when


def in_hand(fold: Fold, attempt: Entry) -> bool:
    return attempt["support"] in fold.document["support"][:2] and attempt["help"] in fold.document["help"][:2]


def prerequisite(fold: Fold, i: int) -> bool:
    entry = fold.entries[i]
    if entry["kind"] != "attempt" or in_hand(fold, entry):
        return False
    return fold.unsigned_prerequisites(entry["skill"], i, when(entry)) != []


def support_step(fold: Fold, i: int) -> bool:
    return fold.entries[i]["kind"] == "attempt" and fold.breaks_support_step(i)


def fall_review(fold: Fold, i: int) -> bool:
    entry = fold.entries[i]
    if entry["kind"] != "attempt" or fold.seated(entry["skill"]):
        return False
    for fall in fold.open_falls(entry["skill"], i):
        looked_at = fold.reviews_of(fall, i) != []
        if looked_at or not in_hand(fold, entry):
            return True
    return False


def fall_unreviewed(fold: Fold, i: int, until: datetime | None) -> bool:
    entry = fold.entries[i]
    if entry["kind"] != "fall":
        return False
    bound = timedelta(hours=24 * int(fold.document["fall_review_days"]))
    if any(when(review) - when(entry) <= bound for review in fold.reviews_of(i, len(fold.entries))):
        return False
    return until is not None and until > when(entry) + bound


def gap(fold: Fold, i: int) -> bool:
    return fold.is_gap(i) and fold.entries[i]["support"] not in fold.document["support"][:2]


def alone(fold: Fold, i: int) -> bool:
    entry = fold.entries[i]
    if entry["kind"] != "attempt" or entry["help"] != fold.document["help"][-1]:
        return False
    ladder, last = fold.ladder(entry["skill"]), fold.proven(entry["skill"])["stages"][-1]
    covered = ladder[: ladder.index(last["support"]) + 1]
    return not fold.signed_off(entry["skill"], i, when(entry)) or entry["support"] not in covered


def feature(fold: Fold, i: int) -> bool:
    entry = fold.entries[i]
    return entry["kind"] == "attempt" and not fold.applicable(entry["skill"], i)


def unsupported_sign_off(fold: Fold, i: int) -> bool:
    entry = fold.entries[i]
    if entry["kind"] != "sign_off":
        return False
    skill = entry["skill"]
    supported = (
        fold.applicable(skill, i)
        and fold.evidence_met(skill, i)
        and fold.unsigned_prerequisites(skill, i, when(entry)) == []
        and fold.open_falls(skill, i) == []
        and not fold.would_be_at_gap(skill, day(entry), i)
    )
    return not supported


def struck_danger(fold: Fold, target: Entry) -> bool:
    """Of a strike-out, by what it strikes."""
    kind = target["kind"]
    if kind in ("episode_opened", "fall", "setting_changed", "sign_off_withdrawn"):
        return True
    if kind == "review":
        return target.get("outcome") == "not_cleared"
    if kind == "attempt":
        return target["result"] == "unsafe" or fold.has_barred_deviation(target)
    if kind == "check":
        return False in target["steps"].values()
    return kind == "mode_checked" and target["ok"] is False


def built_in_broken_at(key: str, fold: Fold, i: int, until: datetime | None) -> bool:
    """Whether a built-in rule, other than struck_danger, is broken at entry i."""
    rules: dict[str, Any] = {
        "prerequisite": prerequisite,
        "support_step": support_step,
        "fall_review": fall_review,
        "gap": gap,
        "alone": alone,
        "feature": feature,
        "unsupported_sign_off": unsupported_sign_off,
    }
    if key == "fall_unreviewed":
        return fall_unreviewed(fold, i, until)
    return key in rules and bool(rules[key](fold, i))
