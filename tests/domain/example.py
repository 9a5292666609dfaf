"""A small protocol in which every part of the contract occurs, and a maker of entries under it. All invented."""

from __future__ import annotations

import copy
from datetime import UTC, datetime, timedelta
from typing import Any

from checklists.domain import Entry, Episode, Protocol, load_protocol, parse_entry

EPISODE = "ALDER-1"
BEGINS = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)


def _words(*keys: str, **more: str) -> list[dict[str, str]]:
    return [{"key": key, "title": key.replace("_", " "), **more} for key in keys]


def _rule(key: str, severity: str = "major", **formulas: Any) -> dict[str, Any]:
    return {"key": key, "sentence": f"{key}.", "severity": severity, "do_now": f"do {key} now", **formulas}


_LOADS = {"entry": {"kind": "attempt", "tags": "loads"}}
_MODE = {"entry": {"kind": ["mode_set", "mode_checked"]}}
_LOCKED = {"entry": {"kind": "mode_set", "mode": "locked"}}
_WALKING = {"entry": {"kind": "mode_checked", "mode": "walking", "ok": True}}
_GOOD_START = {"entry": {"kind": "check", "name": "start_of_session", "steps": {"skin": True, "mode": True}}}

DOCUMENT: dict[str, Any] = {
    "key": "example",
    "version": 3,
    "title": "An example",
    "gap_days": 10,
    "fall_review_days": 2,
    "support": ["bars_both", "bars_one", "contralateral_rail", "ipsilateral_rail", "stick", "none"],
    "help": ["hands_on", "stand_by", "watching", "alone"],
    "deviations": _words("bent_trunk", "long_steps"),
    "measures": _words("step_ratio", "held_s", unit="1"),
    "checks": [
        {"key": "start_of_session", "title": "Start", "steps": ["skin", "mode"]},
        {"key": "lock_in", "title": "Lock in", "steps": ["caught", "loaded"], "per_knee": True},
    ],
    "skills": [
        {
            "key": "don",
            "title": "putting on",
            "tags": ["seated"],
            "rungs": ["none"],
            "proven": {"support": "none", "in_a_row": 2, "days": 2},
        },
        {
            "key": "stand",
            "title": "standing",
            "after": ["don"],
            "tags": ["loads"],
            "rungs": ["bars_both", "bars_one", "none"],
            "proven": {
                "support": "bars_one",
                "in_a_row": 2,
                "barred": ["bent_trunk"],
                "measures": {"held_s": [10, None]},
            },
            "falls_back_on": ["socket"],
            "valid_days": 30,
        },
        {
            "key": "yield",
            "title": "yielding",
            "needs": ["yielding"],
            "tags": ["loads", "bends"],
            "rungs": ["bars_both", "none"],
            "proven": {"support": "bars_both", "in_a_row": 1},
            "falls_back_on": ["resistance", "knee"],
        },
        {
            "key": "ramp",
            "title": "walking down a slope",
            "after": ["stand", "yield"],
            "tags": ["loads", "ramp"],
            "rungs": ["contralateral_rail", "ipsilateral_rail", "none"],
            "proven": {
                "stages": [
                    {"support": "contralateral_rail", "in_a_row": 1, "help": "stand_by"},
                    {"support": "ipsilateral_rail", "in_a_row": 2, "days": 2},
                ]
            },
            "both": {"rungs": ["both_rails", "one_rail", "none"], "proven": {"support": "one_rail", "in_a_row": 1}},
            "falls_back_on": ["foot"],
            "valid_days": 5,
        },
    ],
    "rules": [
        _rule("locked", "critical", when=_LOADS, require={"not": {"since": [{"not": _MODE}, _LOCKED]}}),
        _rule(
            "start",
            when={"entry": {"kind": "attempt"}},
            require={"since": [{"not": {"entry": {"kind": "session_closed"}}}, _GOOD_START], "within": "PT4H"},
        ),
        _rule(
            "resistance",
            when={
                "all": [{"entry": {"tags": "ramp"}}, {"once": {"entry": {"setting": "resistance"}}, "within": "P3D"}]
            },
            require={"status": ["ready", "signed_off"], "skill": "yield"},
        ),
        _rule(
            "newcomer",
            "minor",
            when={"entry": {"kind": "attempt", "role": "assistant"}},
            require={"count": {"entry": {"kind": "attempt"}}, "same_skill": True, "at_least": 1},
        ),
        _rule(
            "too_often",
            "minor",
            when={"entry": {"kind": "attempt", "result": "safe", "measures": {"step_ratio": [None, 1]}}},
            require={
                "count": {"entry": {"kind": "attempt", "measures": {"step_ratio": [0.5, 1]}}},
                "at_most": 1,
                "after": {"entry": {"kind": ["session_opened", "session_closed"]}},
                "within": "PT2H",
            },
        ),
        _rule("twice", when={"all": [_LOCKED, {"previous": _LOCKED}]}, require={"historically": {"not": _WALKING}}),
        _rule("own_status", when={"entry": {"kind": "attempt"}}, require={"not": {"status": ["suspended", "lapsed"]}}),
        _rule("unlocked", "critical", when=_LOCKED, expect={"any": [_WALKING, _GOOD_START]}, within="PT3H"),
    ],
}


def document(**changes: Any) -> dict[str, Any]:
    """A copy of the document, which a test may spoil."""
    return {**copy.deepcopy(DOCUMENT), **changes}


PROTOCOL: Protocol = load_protocol(DOCUMENT)


def uuid_of(number: int) -> str:
    """The id that stands for a number."""
    return f"00000000-0000-4000-8000-{number:012x}"


class Story:
    """Entries of one episode, each a minute after the last unless said otherwise."""

    def __init__(self, *, side: str = "left", features: tuple[str, ...] = ("yielding",), opened: bool = True) -> None:
        self.at = BEGINS
        self.facts: list[dict[str, Any]] = []
        if opened:
            self.add("episode_opened", side=side, features=list(features), protocol="example@3")

    def add(self, kind: str, *, minutes: float = 1, days: int = 0, **fields: Any) -> str:
        """Add an entry and return its id."""
        self.at += timedelta(days=days, minutes=minutes)
        fact = {
            "id": uuid_of(len(self.facts)),
            "episode": EPISODE,
            "kind": kind,
            "at": self.at.isoformat(),
            "by": "runa",
        }
        self.facts.append({**fact, **fields})
        return str(self.facts[-1]["id"])

    def start(self, **more: Any) -> None:
        """A good start check, which the document's rules ask for."""
        self.add("check", name="start_of_session", steps={"skin": True, "mode": True}, **more)

    def attempt(self, skill: str, support: str, help_: str = "stand_by", result: str = "safe", **more: Any) -> str:
        """Add an attempt and return its id."""
        return self.add("attempt", skill=skill, support=support, help=help_, result=result, **more)

    @property
    def entries(self) -> list[Entry]:
        """The entries as read."""
        return [parse_entry(fact, PROTOCOL) for fact in self.facts]

    def episode(self) -> Episode:
        """The fold of all of them."""
        return Episode.replay(PROTOCOL, self.entries, reference=EPISODE).episode

    def broken(self) -> list[tuple[str, str]]:
        """Rule and entry of every alert."""
        replayed = Episode.replay(PROTOCOL, self.entries, reference=EPISODE)
        return [(alert.rule, alert.entry) for alert in replayed.alerts]

    def status(self, skill: str) -> str:
        """The status of a skill at the last entry."""
        return self.episode().status_words()[skill]
