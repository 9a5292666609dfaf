"""Advice, open deadlines and the knees' modes against the naive definition: what is said beforehand is what follows."""

from __future__ import annotations

import json
from datetime import datetime, timedelta
from random import Random
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from checklists.domain import Episode, load_protocol, parse_entry
from tests.conformance_set import DEFAULT_PROTOCOL
from tests.domain import definition
from tests.domain.definition_words import instant
from tests.domain.random_histories import HELP, documents, uuid
from tests.domain.random_walks import Walk
from tests.domain.test_definition import CALM, SEEDS
from tests.oracles.letters import ALL_FEATURES, MODES
from tests.oracles.machines import mode_event

AFTERWARDS = [timedelta(seconds=1), timedelta(hours=5), timedelta(days=1), timedelta(days=3), timedelta(days=40)]
MUCH_LATER = "2026-12-01T09:00:00Z"
ABOVE_KNEE = load_protocol(DEFAULT_PROTOCOL.read_bytes())


def at_of(line: dict[str, Any]) -> datetime:
    found = instant(line["at"])
    assert found is not None
    return found


def a_walk(document: dict[str, Any], seed: int) -> tuple[list[dict[str, Any]], Episode]:
    """A history whose ids come once, and the episode that the program makes of it."""
    lines = list({line["id"]: line for line in Walk(document, seed).history()}.values())
    protocol = load_protocol(json.dumps(document))
    entries = [parse_entry(line, protocol) for line in lines]
    return lines, Episode.replay(protocol, entries, reference="E").episode


@pytest.mark.slow
@settings(max_examples=60, deadline=None, suppress_health_check=CALM)
@given(documents(), SEEDS, st.sampled_from(AFTERWARDS))
def test_advice_names_the_rules_that_the_attempt_would_break(
    document: dict[str, Any], seed: int, after: timedelta
) -> None:
    lines, episode = a_walk(document, seed)
    at = (max(at_of(line) for line in lines) + after).isoformat()
    random = Random(seed)
    skill = random.choice(document["skills"])
    rungs = skill["rungs"] + skill.get("both", {}).get("rungs", [])
    planned = {"skill": skill["key"], "support": random.choice(rungs), "help": random.choice(HELP)}
    role = random.choice(["therapist", "assistant"])
    advice = episode.advise(planned, at=at, role=role)
    made = {**planned, "id": uuid(777), "episode": "E", "kind": "attempt", "at": at, "by": "T", "role": role}
    (report,) = definition.replay(document, [*lines, {**made, "result": "safe"}], at)
    broken = [alert["rule"] for alert in report["alerts"] if alert["entry"] == made["id"]]
    assert [one.rule for one in advice.breaks] == broken
    assert advice.allowed == (broken == [])


@pytest.mark.slow
@settings(max_examples=60, deadline=None, suppress_health_check=CALM)
@given(documents(), SEEDS)
def test_open_deadlines_are_those_that_will_be_alerts(document: dict[str, Any], seed: int) -> None:
    """Those not yet due at the last entry; of a deadline that passed before a last strike-out either may be said."""
    lines, episode = a_walk(document, seed)
    with_deadline = {rule["key"] for rule in document["rules"] if "expect" in rule} | {"fall_unreviewed"}

    def alerts(at: str | None) -> set[tuple[str, str]]:
        (report,) = definition.replay(document, lines, at)
        return {(one["rule"], one["entry"]) for one in report["alerts"] if one["rule"] in with_deadline}

    found = {(one.rule, one.entry) for one in episode.deadlines()}
    assert alerts(MUCH_LATER) - alerts(None) <= found <= alerts(MUCH_LATER)


def knee_of(events: list[tuple[str, ...]]) -> tuple[str | None, str | None]:
    """Mode and proof by the last mode event; of a failed check and of a new knee only the proof is compared."""
    if not events or events[-1] == ("void",):
        return (None, None)
    how, mode = events[-1]
    return (None, "failed") if how == "failed" else (mode, {"set": "set", "passed": "proven"}[how])


@pytest.mark.parametrize("seed", range(60))
def test_the_knees_are_in_the_mode_of_their_last_mode_event(seed: int) -> None:
    random = Random(seed)
    side = random.choice(["left", "both"])
    opening = {"kind": "episode_opened", "side": side, "features": ALL_FEATURES, "protocol": "above_knee@1"}
    events: dict[str, list[tuple[str, ...]]] = {"left": [], "right": []}
    lines = []
    for number, fields in enumerate([opening, *random.choices(list(MODES.values()), k=random.randint(0, 12))]):
        entry = {"id": uuid(number), "episode": "E", "at": f"2026-03-02T09:{number:02d}:00Z", "by": "T", **fields}
        asks = fields["kind"] in ("mode_set", "mode_checked", "check") or fields.get("setting") == "knee"
        if asks and random.random() < 0.6:
            entry["knee"] = random.choice(["left", "right"])
        lines.append(entry)
        for knee, seen in events.items():
            event = seen_of(entry, knee) if side == "both" else mode_event(entry)
            seen += [event] if event is not None else []
    entries = [parse_entry(line, ABOVE_KNEE) for line in lines]
    knees = Episode.replay(ABOVE_KNEE, entries, reference="E").episode.knees()
    found = [(one.knee, (one.mode if one.proof in ("set", "proven") else None, one.proof)) for one in knees]
    names: list[str | None] = ["left", "right"] if side == "both" else [None]
    assert found == [(name, knee_of(events[name or "left"])) for name in names]


def seen_of(entry: dict[str, Any], knee: str) -> tuple[str, ...] | None:
    """An entry's mode event in the sequence of one knee of two."""
    named, event = entry.get("knee"), mode_event(entry)
    if named not in (None, knee) or event is None:
        return None
    if named is None and entry["kind"] == "mode_checked" and entry["ok"]:
        return ("set", entry["mode"])
    one_knee = entry["kind"] == "check" and entry["name"] not in ("start_of_session", "end_of_session")
    return None if one_knee and named is None and False not in entry["steps"].values() else event
