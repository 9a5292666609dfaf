"""An entry is refused by itself under the field at fault; the server's reception refuses more (SEMANTICS.md §1)."""

from __future__ import annotations

import json
from datetime import timedelta
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from checklists.domain import FIELDS, EntryRefused, parse_entry
from checklists.domain.reader import Reader
from tests.domain.example import BEGINS, EPISODE, PROTOCOL, uuid_of
from tests.domain.histories import Fact, histories

BASE = {"id": uuid_of(1), "episode": EPISODE, "at": "2026-03-02T10:00:00+01:00", "by": "runa"}
KINDS: dict[str, Fact] = {
    "episode_opened": {"side": "both", "features": ["lock"], "protocol": "x"},
    "session_opened": {},
    "check": {"name": "lock_in", "steps": {"caught": True}},
    "mode_set": {"mode": "locked", "support": "one_rail", "knee": "left"},
    "mode_checked": {"mode": "walking", "ok": True},
    "attempt": {"skill": "ramp", "support": "both_rails", "help": "watching", "result": "safe"},
    "setting_changed": {"setting": "knee", "features": []},
    "fall": {"injury": "none"},
    "near_miss": {"skill": "stand"},
    "review": {"of": [uuid_of(2)], "outcome": "cleared", "next_due": "2026-04-01"},
    "sign_off": {"skill": "stand", "override": {"by": "ove", "reason": "seen"}},
    "sign_off_withdrawn": {"skill": "stand"},
    "struck_out": {"entry": uuid_of(2), "reason": "wrong person"},
    "correction_requested": {"entry": uuid_of(2), "text": "not so", "asked_by": "the person"},
    "correction_answered": {"request": uuid_of(2), "answer": "agreed", "struck": [uuid_of(3)], "reason": "seen"},
}


def _fact(kind: str, /, **changes: Any) -> Fact:
    fact = {**BASE, "kind": kind, **KINDS[kind], **changes}
    return {name: value for name, value in fact.items() if value is not ...}


@pytest.mark.parametrize("kind", KINDS)
def test_a_sound_entry_is_taken_and_says_what_was_sent(kind: str) -> None:
    fact = _fact(kind)
    content = parse_entry(fact, PROTOCOL).content()
    assert {name: content[name] for name in fact} == fact


@pytest.mark.parametrize("kind", KINDS)
def test_every_required_field_is_missed_and_no_field_may_be_null(kind: str) -> None:
    for name, field in FIELDS[kind].items():
        if field.required:
            with pytest.raises(EntryRefused, match=f"^{name}: "):
                parse_entry(_fact(kind, **{name: ...}), PROTOCOL)
        with pytest.raises(EntryRefused, match=f"^{name}: "):
            parse_entry({**_fact(kind), name: None}, PROTOCOL)


FAULTS: list[tuple[str, str, Any]] = [
    ("kind", "attempt", "atempt"),
    ("id", "attempt", "00000000-0000-4000-8000-00000000000A"),
    ("id", "attempt", uuid_of(1) + "\n"),
    ("at", "attempt", "2026-03-02t10:00:00Z"),
    ("at", "attempt", "2026-03-02T10:00:00"),
    ("at", "attempt", "2026-03-02T10:00:60Z"),
    ("at", "attempt", "2026-03-02T10:00:00.1234567Z"),
    ("at", "attempt", "2026-02-29T10:00:00Z"),
    ("at", "attempt", "2026-03-02T10:00:00+24:00"),
    ("at", "attempt", "２026-03-02T10:00:00Z"),
    ("seq", "attempt", 1.5),
    ("seq", "attempt", True),
    ("role", "attempt", "lead"),
    ("clock_offset_s", "attempt", float("nan")),
    ("mode", "attempt", "locked"),
    ("skill", "attempt", "stnad"),
    ("support", "attempt", "stick"),
    ("help", "attempt", "nobody"),
    ("result", "attempt", "good"),
    ("deviations", "attempt", "bent_trunk"),
    ("measures", "attempt", {"held_s": True}),
    ("measures", "attempt", {"held_s": float("inf")}),
    ("rail", "attempt", "both"),
    ("began", "attempt", "2026-03-02"),
    ("name", "check", "lock_on"),
    ("steps", "check", {"skin": True}),
    ("steps", "check", {"caught": 1}),
    ("support", "mode_set", "rail"),
    ("ok", "mode_checked", 1),
    ("setting", "setting_changed", "sock"),
    ("features", "setting_changed", ["swing"]),
    ("features", "setting_changed", ...),
    ("features", "episode_opened", "lock"),
    ("injury", "fall", "bad"),
    ("of", "review", "none"),
    ("outcome", "review", ...),
    ("outcome", "review", "clear"),
    ("next_due", "review", "2026-4-1"),
    ("override", "sign_off", {"by": "ove"}),
    ("entry", "struck_out", "that one"),
    ("asked_by", "correction_requested", ["p"]),
    ("answer", "correction_answered", "maybe"),
    ("struck", "correction_answered", "none"),
    ("added", "correction_answered", ["none"]),
]


@pytest.mark.parametrize(("name", "kind", "value"), FAULTS)
def test_a_fault_is_refused_under_the_name_of_its_field(name: str, kind: str, value: Any) -> None:
    with pytest.raises(EntryRefused, match=f"^{name}: "):
        parse_entry(_fact(kind, **{name: value}), PROTOCOL)


def test_an_outcome_needs_falls_and_features_need_a_change_of_knee() -> None:
    with pytest.raises(EntryRefused, match=r"^outcome: "):
        parse_entry(_fact("review", of=[]), PROTOCOL)
    with pytest.raises(EntryRefused, match=r"^features: "):
        parse_entry(_fact("setting_changed", setting="foot"), PROTOCOL)


@pytest.mark.parametrize(
    ("name", "kind", "changes"),
    [
        ("at", "attempt", {"at": "2026-03-02T09:05:00.000001Z"}),
        ("began", "attempt", {"began": "2026-03-02T09:06:00Z"}),
        ("despite", "attempt", {"despite": "x" * 4_001}),
        ("note", "attempt", {"note": "a\0b"}),
        ("note", "attempt", {"note": "\ud800"}),
        ("seq", "attempt", {"seq": 2**53}),
        ("measures", "attempt", {"measures": {"held_s": 1e300}}),
        ("measures", "attempt", {"measures": {"a_lost_word": 1}}),
        ("deviations", "attempt", {"deviations": ["a_lost_word"]}),
        ("skill", "fall", {"skill": "a_lost_skill"}),
        ("kind", "sign_off", {}),
        ("kind", "sign_off_withdrawn", {}),
    ],
)
def test_the_server_refuses_more_than_a_replay(name: str, kind: str, changes: Fact) -> None:
    fact = _fact(kind, **{"at": BEGINS.isoformat(), **changes})
    assert parse_entry(fact, PROTOCOL).id == uuid_of(1)
    with pytest.raises(EntryRefused, match=f"^{name}: "):
        parse_entry(fact, PROTOCOL, now=BEGINS)


def test_the_server_takes_a_clock_that_is_five_minutes_ahead_and_a_sign_off_from_the_signing_service() -> None:
    ahead = (BEGINS + timedelta(minutes=5)).isoformat()
    assert parse_entry(_fact("attempt", at=ahead), PROTOCOL, now=BEGINS).kind == "attempt"
    assert parse_entry(_fact("sign_off", at=ahead), PROTOCOL, now=BEGINS, signing=True).kind == "sign_off"


@pytest.mark.parametrize("kind", ["mode_set", "mode_checked", "check", "setting_changed"])
def test_whoever_has_two_knees_is_asked_which_at_reception(kind: str) -> None:
    fact = _fact(kind, knee=..., at=BEGINS.isoformat())
    assert parse_entry(fact, PROTOCOL, now=BEGINS).kind == kind
    with pytest.raises(EntryRefused, match=r"^knee: "):
        parse_entry(fact, PROTOCOL, now=BEGINS, both=True)
    assert parse_entry({**fact, "knee": "right"}, PROTOCOL, now=BEGINS, both=True).kind == kind


@pytest.mark.parametrize("entry", [None, [], "x", 3, {}, {"kind": ["attempt"]}, {"kind": {}}])
def test_what_is_no_entry_at_all_is_refused(entry: Any) -> None:
    with pytest.raises(EntryRefused):
        parse_entry(entry, PROTOCOL)


_ODD = st.sampled_from(
    [
        *(None, True, 0, 1, 1.0, 1e300, 2**70, "", "safe", "left", "2026-03-02T10:00:00Z", uuid_of(1)),
        *([], ["lock"], [1], {}, {"held_s": 1}, {"held_s": True}, {"caught": 1}, {"by": "a", "reason": "b"}),
    ]
)


def _read(read: Any, *arguments: Any) -> Any:
    try:
        return read(*arguments)
    except EntryRefused as refused:
        return str(refused)


_SPOILT = st.tuples(st.integers(0, 20), _ODD)


@settings(max_examples=100, deadline=None)
@given(histories(most=6), st.lists(_SPOILT, min_size=8, max_size=8))
def test_the_short_way_of_reading_gives_what_the_careful_way_gives(facts: list[Fact], spoilt: list[Any]) -> None:
    reader = Reader(PROTOCOL)
    sound = facts * 2
    odd = [
        {**fact, list(FIELDS[fact["kind"]])[n % len(FIELDS[fact["kind"]])]: value}
        for fact, (n, value) in zip(facts, spoilt, strict=False)
    ]
    for fact in sound + odd + sound:
        line = json.dumps(fact).encode()
        short = _read(reader.read, json.loads(line), line)
        careful = _read(parse_entry, json.loads(line), PROTOCOL)
        assert short == careful
        if not isinstance(short, str):
            assert short.content() == careful.content()
