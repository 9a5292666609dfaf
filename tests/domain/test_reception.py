"""Reception by the server (SEMANTICS.md section 1): checklists.domain refuses what the definition refuses."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from checklists.domain import EntryRefused, load_protocol, parse_entry
from tests.conformance_set import shared_document
from tests.domain import definition
from tests.domain.definition_entry import EntryRefused as RefusedByDefinition
from tests.domain.definition_reception import receive

NOW = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
SMALL = shared_document("small")
PROTOCOL, DOCUMENT = load_protocol(json.dumps(SMALL)), definition.load(SMALL)


def written(seconds: float) -> str:
    return (NOW + timedelta(seconds=seconds)).isoformat()


def entry(kind: str, **fields: Any) -> dict[str, Any]:
    common = {"id": "00000000-0000-4000-8000-000000000001", "episode": "E", "at": written(0), "by": "T"}
    return {**common, "kind": kind, **fields}


def attempt(**fields: Any) -> dict[str, Any]:
    return entry("attempt", **{"skill": "stand", "support": "none", "help": "alone", "result": "safe", **fields})


LONG = {"by": "L", "reason": "x" * 4001}
LOCK = {"name": "lock", "steps": {"caught": True, "loaded": True}}
CASES: list[tuple[str, dict[str, Any], str | None, str | None]] = [
    # what it is, the entry, field at fault with one prosthesis, with two
    ("exactly five minutes ahead", attempt(at=written(300)), None, None),
    ("a fraction more", attempt(at=written(300.001)), "at", "at"),
    ("ahead in another offset", attempt(at="2026-03-02T11:06:00+02:00"), "at", "at"),
    ("long ago", attempt(at="2001-01-01T00:00:00Z"), None, None),
    ("began ahead", attempt(began=written(301)), "began", "began"),
    ("4,000 characters", attempt(note="x" * 4000), None, None),
    ("4,001 characters", attempt(note="x" * 4001), "note", "note"),
    ("4,001 characters deep inside", entry("sign_off", skill="don", override=LONG), "override", "override"),
    ("characters beyond the plane", attempt(note="😀" * 4000), None, None),
    ("U+0000", attempt(despite="a\0b"), "despite", "despite"),
    ("a lone surrogate", attempt(by="\ud800"), "by", "by"),
    ("2^53 - 1", attempt(seq=2**53 - 1), None, None),
    ("2^53", attempt(seq=2**53), "seq", "seq"),
    ("2^53 of a measure", attempt(measures={"ratio": 2**53}), "measures", "measures"),
    ("an unknown deviation", attempt(deviations=["hopping"]), "deviations", "deviations"),
    ("an unknown measure", attempt(measures={"height": 1}), "measures", "measures"),
    ("a fall of an unknown skill", entry("fall", skill="fly", injury="none"), "skill", "skill"),
    ("a near miss of an unknown skill", entry("near_miss", skill="fly"), "skill", "skill"),
    ("a setting that names no knee", entry("mode_set", mode="locked"), None, "knee"),
    ("a setting that names one", entry("mode_set", mode="locked", knee="left"), None, None),
    ("a mode check that names no knee", entry("mode_checked", mode="locked", ok=False), None, "knee"),
    ("a per-knee check that names no knee", entry("check", **LOCK), None, "knee"),
    ("a per-knee check that names one", entry("check", knee="right", **LOCK), None, None),
    ("a check of both at once", entry("check", name="start", steps={"mode": True}), None, None),
    ("a change of knee that names none", entry("setting_changed", setting="knee", features=[]), None, "knee"),
    ("another change that names none", entry("setting_changed", setting="foot"), None, None),
]  # fmt: skip  # a table, read by row


def by_core(sent: dict[str, Any], **how: Any) -> str | None:
    try:
        parse_entry(sent, PROTOCOL, now=NOW, **how)
    except EntryRefused as refused:
        return str(refused).split(":")[0]
    return None


def by_definition(sent: dict[str, Any], **how: Any) -> str | None:
    try:
        receive(sent, DOCUMENT, NOW, **how)
    except RefusedByDefinition as refused:
        return str(refused).split(":")[0]
    return None


@pytest.mark.parametrize(("sent", "one", "two"), [case[1:] for case in CASES], ids=[case[0] for case in CASES])
def test_reception_refuses_at_the_field(sent: dict[str, Any], one: str | None, two: str | None) -> None:
    for judge in (by_core, by_definition):
        assert (judge(sent, signing=True), judge(sent, both=True, signing=True)) == (one, two), judge


@pytest.mark.parametrize("kind", ["sign_off", "sign_off_withdrawn"])
def test_a_signature_comes_from_the_signing_service_or_an_import(kind: str) -> None:
    sent = entry(kind, skill="don")
    for judge in (by_core, by_definition):
        assert judge(sent) is not None
        assert judge(sent, signing=True) is None


@pytest.mark.parametrize("sent", [case[1] for case in CASES], ids=[case[0] for case in CASES])
def test_a_replay_takes_all_of_them(sent: dict[str, Any]) -> None:
    parse_entry(sent, PROTOCOL)
