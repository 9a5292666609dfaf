"""The fold: SEMANTICS.md section 5, and what section 4 says of rungs, gaps and falls (naive reference implementation).

Everything here looks at the first `n` entries of an episode, in order, and works its answer out from the start.
"""

from __future__ import annotations

from datetime import date, datetime, timedelta
from functools import cache
from typing import Any

from tests.domain.definition_document import depends
from tests.domain.definition_words import instant

Entry = dict[str, Any]


def when(entry: Entry) -> datetime:
    found = instant(entry["at"])
    assert found is not None
    return found


def day(entry: Entry) -> date:
    """The calendar date as written."""
    return date.fromisoformat(entry["at"][:10])


class Fold:
    """An episode's entries in order, without strike-outs and struck ones, seen through a document."""

    def __init__(self, document: dict[str, Any], entries: list[Entry]) -> None:
        self.document, self.entries = document, entries
        self.skills: dict[str, Any] = document["skills_by_key"]
        opening = entries[0] if entries and entries[0]["kind"] == "episode_opened" else None
        self.both = opening is not None and opening["side"] == "both"
        self._depends = {key: depends(key, document) for key in self.skills}

    # -- what holds for this person

    def ladder(self, skill: str) -> list[str]:
        variant = self.skills[skill].get("both", {}) if self.both else {}
        rungs: list[str] = variant.get("rungs", self.skills[skill]["rungs"])
        return rungs

    def proven(self, skill: str) -> dict[str, Any]:
        variant = self.skills[skill].get("both", {}) if self.both else {}
        proven: dict[str, Any] = variant.get("proven", self.skills[skill]["proven"])
        return proven

    def seated(self, skill: str) -> bool:
        return "seated" in self.skills[skill]["tags"]

    def has_barred_deviation(self, attempt: Entry) -> bool:
        barred = self.proven(attempt["skill"])["barred"]
        return any(deviation in barred for deviation in attempt["deviations"])

    # -- section 5: applicable, prerequisites

    def features(self, n: int) -> set[str]:
        left: set[str] = set()
        right: set[str] = set()
        for entry in self.entries[:n]:
            if entry["kind"] == "episode_opened":
                left = right = set(entry["features"])
            if entry["kind"] == "setting_changed" and entry["setting"] == "knee":
                named = entry.get("knee") if self.both else None
                if named != "right":
                    left = set(entry["features"])
                if named != "left":
                    right = set(entry["features"])
        return left & right

    def applicable(self, skill: str, n: int) -> bool:
        return set(self.skills[skill]["needs"]) <= self.features(n)

    def prerequisites(self, skill: str, n: int) -> list[str]:
        return [key for key in self.skills if key in self._depends[skill] and self.applicable(key, n)]

    # -- section 4: gaps

    def would_be_at_gap(self, skill: str, on: date, n: int) -> bool:
        """Whether an attempt of the skill on that date, after the first n entries, is at a gap."""
        if self.seated(skill):
            return False
        before = [e for e in self.entries[:n] if e["kind"] == "attempt" and not self.seated(e["skill"])]
        return bool(before) and (on - day(before[-1])).days > self.document["gap_days"]

    @cache  # noqa: B019 - a fold lives as long as its comparison
    def is_gap(self, i: int) -> bool:
        entry = self.entries[i]
        return entry["kind"] == "attempt" and self.would_be_at_gap(entry["skill"], day(entry), i)

    # -- section 5: fall-back events

    def fall_backs(self, skill: str, n: int, *, own_gap: bool = False) -> list[float]:
        """Positions of the skill's fall-back events. That of a gap is half a place before its attempt; with
        `own_gap` the gap that entry n itself makes is among them."""
        found: list[float] = []
        for i in range(n + (1 if own_gap else 0)):
            entry = self.entries[i]
            if self.is_gap(i) and not self.seated(skill) and not self._signed_off(skill, i, when(entry), found):
                found.append(i - 0.5)
            if i == n:
                break
            if entry["kind"] == "setting_changed" and entry["setting"] in self.skills[skill]["falls_back_on"]:
                found.append(i)
            if entry["kind"] == "fall" and entry.get("skill") in {skill, *self._depends[skill]}:
                found.append(i)
            if self._second_unsafe(skill, i):
                found.append(i)
        return found

    def _second_unsafe(self, skill: str, i: int) -> bool:
        entry = self.entries[i]
        if not (entry["kind"] == "attempt" and entry["skill"] == skill and entry["result"] == "unsafe"):
            return False
        before = [e for e in self.entries[:i] if e["kind"] == "attempt" and e["skill"] == skill]
        three = [e for e in before if e["result"] != "stopped"][-3:]
        return any(e["result"] == "unsafe" for e in three)

    # -- section 5: sign-offs

    def standing(self, skill: str, n: int) -> int | None:
        """The position of the sign-off that stands."""
        signed = [i for i in range(n) if self._signs(skill, i)]
        return signed[-1] if signed and self.entries[signed[-1]]["kind"] == "sign_off" else None

    def _signs(self, skill: str, i: int) -> bool:
        entry = self.entries[i]
        return entry["kind"] in ("sign_off", "sign_off_withdrawn") and entry["skill"] == skill

    def _signed_status(self, skill: str, n: int, t: datetime, fall_backs: list[float]) -> str | None:
        """One of the first four statuses, or None where none of them fits."""
        if not self.applicable(skill, n):
            return "not_applicable"
        sign_off = self.standing(skill, n)
        if sign_off is None:
            return None
        if any(position > sign_off for position in fall_backs):
            return "suspended"
        valid_days = self.skills[skill].get("valid_days")
        if valid_days is not None and t >= when(self.entries[sign_off]) + timedelta(hours=24 * int(valid_days)):
            return "lapsed"
        return "signed_off"

    def _signed_off(self, skill: str, n: int, t: datetime, fall_backs: list[float]) -> bool:
        return self._signed_status(skill, n, t, fall_backs) == "signed_off"

    # -- section 4: the rung that is allowed

    def allowed(self, skill: str, n: int) -> int:
        """The place on the ladder that an attempt of entry n may take: 0 is the first rung."""
        ladder = self.ladder(skill)
        fall_backs = self.fall_backs(skill, n, own_gap=n < len(self.entries))
        allowed = 0
        for i in range(n + 1):
            if i - 0.5 in fall_backs:
                allowed = 0
            if i == n:
                break
            entry = self.entries[i]
            if entry["kind"] == "attempt" and entry["skill"] == skill:
                rung = ladder.index(entry["support"]) if entry["support"] in ladder else None
                good = entry["result"] == "safe" and not self.has_barred_deviation(entry)
                if good and rung is not None and rung <= allowed:
                    allowed = max(allowed, rung + 1)
                if entry["result"] == "unsafe":
                    allowed = min(allowed, max(rung - 1, 0)) if rung is not None else 0
            if i in fall_backs:
                allowed = 0
            if entry["kind"] == "sign_off_withdrawn" and entry["skill"] == skill:
                allowed = 0
            if entry["kind"] == "fall" and "skill" not in entry:
                allowed = 0
        return allowed

    def breaks_support_step(self, i: int) -> bool:
        entry = self.entries[i]
        ladder = self.ladder(entry["skill"])
        if entry["support"] not in ladder:
            return True
        return ladder.index(entry["support"]) > self.allowed(entry["skill"], i)

    # -- section 5: evidence

    def evidence_met(self, skill: str, n: int) -> bool:
        begins = [-1.0, *self.fall_backs(skill, n), *(i for i in range(n) if self._signs(skill, i))]
        proven, ladder, helps = self.proven(skill), self.ladder(skill), self.document["help"]
        stages = proven["stages"]
        at, run, days, met = 0, 0, set[date](), False
        for i in range(n):
            entry = self.entries[i]
            if not (i > max(begins) and entry["kind"] == "attempt" and entry["skill"] == skill):
                continue
            stage, measured = stages[at], entry["measures"]
            if entry["result"] == "unsafe" or self.has_barred_deviation(entry):  # 1
                run, days, met = 0, set(), False
                continue
            if (  # 2
                entry["result"] == "stopped"
                or self.breaks_support_step(i)
                or ladder.index(entry["support"]) < ladder.index(stage["support"])
                or ("help" in stage and helps.index(entry["help"]) < helps.index(stage["help"]))
                or any(name not in measured for name in proven["measures"])
            ):
                continue
            if not all(inside(measured[name], bounds) for name, bounds in proven["measures"].items()):  # 3
                run, days, met = 0, set(), False
                continue
            if met:
                continue
            run, days = run + 1, days | {day(entry)}  # 4
            if run >= stage["in_a_row"] and len(days) >= stage["days"]:
                run, days = 0, set()
                if at + 1 < len(stages):
                    at += 1
                else:
                    met = True
        return met

    # -- section 4: falls

    def counts_for(self, fall: Entry, skill: str) -> bool:
        return "skill" not in fall or fall["skill"] in {skill, *self._depends[skill]}

    def open_falls(self, skill: str, n: int) -> list[int]:
        """Falls that count for the skill and are open."""
        found = []
        for i, entry in enumerate(self.entries[:n]):
            if entry["kind"] == "fall" and self.counts_for(entry, skill):
                reviews = self.reviews_of(i, n)
                if not reviews or reviews[-1]["outcome"] != "cleared":
                    found.append(i)
        return found

    def reviews_of(self, fall: int, n: int) -> list[Entry]:
        """The later reviews that name a fall."""
        name = self.entries[fall]["id"]
        return [e for e in self.entries[fall + 1 : n] if e["kind"] == "review" and name in e["of"]]

    # -- section 5: status

    def signed_off(self, skill: str, n: int, t: datetime) -> bool:
        return self._signed_off(skill, n, t, self.fall_backs(skill, n))

    def unsigned_prerequisites(self, skill: str, n: int, t: datetime) -> list[str]:
        return [key for key in self.prerequisites(skill, n) if not self.signed_off(key, n, t)]

    def status(self, skill: str, n: int, t: datetime) -> str:
        signed = self._signed_status(skill, n, t, self.fall_backs(skill, n))
        if signed is not None:
            return signed
        if self.unsigned_prerequisites(skill, n, t) or self.open_falls(skill, n):
            return "blocked"
        if self.evidence_met(skill, n):
            return "ready"
        if any(entry["kind"] == "attempt" and entry["skill"] == skill for entry in self.entries[:n]):
            return "training"
        return "open"


def inside(value: float, bounds: list[float | None]) -> bool:
    """A closed range, open where a bound is null."""
    low, high = bounds
    return (low is None or value >= low) and (high is None or value <= high)
