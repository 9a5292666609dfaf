"""Two cores, one state: carried on step by step, and handed over as a snapshot from the server to a tablet and back.

A tablet takes up the snapshot that the server wrote and goes on from there without it; what it says then, and the bytes
of its own snapshot, are what the server would say and write.
"""

from __future__ import annotations

import json
import subprocess
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta, timezone
from pathlib import Path
from typing import Any

import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from checklists.domain import Entry, EntryRefused, Episode, Protocol, instant, load_protocol, parse_entry
from tests.conformance_set import Case, all_cases
from tests.core_js.differing import differences
from tests.core_js.drawing import drawn
from tests.core_js.node import NODE
from tests.domain.example import DOCUMENT
from tests.domain.random_histories import documents
from tests.domain.random_histories import histories as any_histories
from tests.domain.random_walks import Walk
from tests.domain.test_definition import CALM, SEEDS

CASES = [case for case in all_cases() if case.refusal is None and case.entries]
LONG = pytest.mark.timeout(4 * 3600)  # for whoever asks for many histories
WALKS = 5
# A difference says where it is by itself; making its history shorter would take longer than reading it.
QUICKLY: dict[str, Any] = {
    "deadline": None,
    "suppress_health_check": CALM,
    "database": None,
    "phases": [Phase.generate],
}
E = "E"
SUMMER = timezone(timedelta(hours=1))


class Tablet:
    """The process, asked one question after another."""

    def __init__(self, process: subprocess.Popen[str]) -> None:
        self._process = process

    def ask(self, ask: str, **question: Any) -> Any:
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        self._process.stdin.write(json.dumps({"ask": ask, **question}) + "\n")
        self._process.stdin.flush()
        answer = json.loads(self._process.stdout.readline() or '{"failed": "the process has ended"}')
        assert "failed" not in answer, answer["failed"]
        return answer["said"]


@pytest.fixture(scope="module")
def tablet() -> Iterator[Tablet]:
    command = [NODE, str(Path(__file__).parent / "incremental.mjs")]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, encoding="utf-8") as node:
        try:
            yield Tablet(node)
        finally:
            node.kill()


@dataclass(frozen=True)
class History:
    """The entries of one episode that reading takes, in the order of reception, as objects and as lines."""

    protocol: Protocol
    source: str
    reference: str
    entries: Sequence[Entry]
    lines: Sequence[str]

    @property
    def moment(self) -> datetime:
        """An hour after the last of them, by clocks that are ahead of UTC."""
        return instant.at_microseconds(max(entry.at_us for entry in self.entries) + 3_600 * 10**6).astimezone(SUMMER)


def read(document: Any, facts: Sequence[Any]) -> History | None:
    """None where reading takes none of them."""
    source = json.dumps(document)
    protocol = load_protocol(source)
    found: list[tuple[Entry, str]] = []
    for fact in facts:
        try:
            entry = parse_entry(json.loads(json.dumps(fact)), protocol)
        except EntryRefused:
            continue
        if not found or entry.episode == found[0][0].episode:
            found.append((entry, json.dumps(fact)))
    if not found:
        return None
    entries, lines = zip(*found, strict=True)
    return History(protocol, source, entries[0].episode, entries, lines)


def appended(episode: Episode, entry: Entry) -> dict[str, Any]:
    return {"alerts": [one._asdict() for one in episode.append(entry)], "met": episode.met}


def steps(history: History) -> list[dict[str, Any]]:
    """What `steps` of incremental.mjs answers; here too the state carried on must be that of a fresh replay."""
    episode = Episode(history.protocol, history.reference)
    found: list[dict[str, Any]] = []
    for number, entry in enumerate(history.entries):
        arrived = history.entries[: number + 1]
        taken = all(one.id != entry.id for one in arrived[:-1]) and episode.takes(entry)
        fresh = Episode.replay(history.protocol, arrived, reference=history.reference).episode
        did = appended(episode, entry) if taken else None
        if not taken:
            episode = fresh
        found.append({"did": did, "carried": episode.snapshot().decode(), "fresh": fresh.snapshot().decode()})
    return found


def says(episode: Episode, at: datetime, role: str | None, every: int = 1) -> dict[str, Any]:
    plan = episode.fold.plan
    tried = [
        {"skill": skill.skill.key, "support": support, "help": help_}
        for skill in plan.skills
        for support in skill.ladder
        for help_ in episode.protocol.help
    ]
    return {
        "statuses": {key: one._asdict() for key, one in episode.statuses(at).items()},
        "words": episode.status_words(at),
        "knees": [one._asdict() for one in episode.knees()],
        "next": [{**one._asdict(), "first": [each._asdict() for each in one.first]} for one in episode.next_steps(at)],
        "first": [one._asdict() for one in episode.check_first(at)],
        "deadlines": [one._asdict() for one in episode.deadlines()],
        "changes": episode.changes_at(at),
        "lacks": [episode.sign_off_blockers(key, at) for key in plan.keys],
        "modes": [
            advised(episode, {"kind": "mode_set", "mode": one}, at, role) for one in ("walking", "locked", "free_swing")
        ],
        "advice": [advised(episode, planned, at, role) for planned in tried[::every]],
    }


def advised(episode: Episode, planned: dict[str, Any], at: datetime, role: str | None) -> dict[str, Any]:
    advice = episode.advise(planned, at=at, role=role)
    breaks, counted = [one._asdict() for one in advice.breaks], advice.counted
    return {"allowed": advice.allowed, "breaks": breaks, "counted": counted._asdict() if counted else None}


def assert_steps(history: History, tablet: Tablet) -> list[dict[str, Any]]:
    wanted = steps(history)
    found = tablet.ask("steps", document=history.source, reference=history.reference, facts=history.lines)
    assert differences(wanted, found) == []
    assert all(one["carried"] == one["fresh"] for one in found)
    return wanted


def assert_handed_over(
    history: History, tablet: Tablet, begin: int, role: str | None = "therapist", every: int = 1
) -> None:
    """The server's snapshot after the first entries, taken up by both and carried on; then the tablet's in turn.

    `every`: advice on every so manieth skill, rung and help.
    """
    first, more = history.entries[:begin], history.entries[begin:]
    at = history.moment
    question = {"document": history.source, "at": instant.of(at)[2], "role": role, "every": every}
    snapshot = Episode.replay(history.protocol, first, reference=history.reference).episode.snapshot().decode()
    taken_up = tablet.ask("restore", snapshot=snapshot, facts=history.lines[begin:], **question)
    ours = Episode.restore(history.protocol, snapshot)
    did = [appended(ours, entry) if ours.takes(entry) else None for entry in more]
    assert taken_up["again"] == snapshot
    assert differences(did, taken_up["did"]) == []
    assert taken_up["snapshot"] == ours.snapshot().decode()
    assert differences(says(ours, at, role, every), taken_up["says"]) == []
    back = Episode.restore(history.protocol, taken_up["snapshot"])
    assert back.snapshot().decode() == taken_up["snapshot"]
    assert says(back, at, role, every) == says(ours, at, role, every)


@pytest.mark.parametrize(("number", "case"), list(enumerate(CASES)), ids=[case.name for case in CASES])
def test_the_conformance_set(number: int, case: Case, tablet: Tablet, histories: int) -> None:
    """Every case step by step; handed over at a place of it in turns, at three where many comparisons are asked for."""
    history = read(case.document, case.entries)
    if history is None:
        assert all("error" in one for line in case.expected for one in line["refused"])
        return
    if len(history.entries) <= 40:  # a longer one is carried on from a few of its entries
        assert_steps(history, tablet)
    length, whole = len(history.entries), histories >= 1000
    places = sorted({length // 3, length * 2 // 3, length})
    for begin in places if whole else [places[number % len(places)]]:
        assert_handed_over(history, tablet, begin, every=1 if whole else 7)


@LONG
def test_histories_that_get_somewhere(tablet: Tablet, histories: int) -> None:
    carried = 0

    @settings(max_examples=max(drawn(histories) // WALKS, 2), **QUICKLY)
    @given(documents(), SEEDS, st.sampled_from([None, "therapist", "assistant"]))
    def compare(document: dict[str, Any], seed: int, role: str | None) -> None:
        nonlocal carried
        for more in range(WALKS):
            history = read(document, Walk(document, seed + more).history())
            if history is not None:
                carried += sum(one["did"] is not None for one in assert_steps(history, tablet))
                assert_handed_over(history, tablet, len(history.entries) // 2, role)

    compare()
    assert carried > 40


@LONG
def test_anything_at_all(tablet: Tablet, histories: int) -> None:
    @settings(max_examples=drawn(histories) // 2, **QUICKLY)
    @given(st.data())
    def compare(data: st.DataObject) -> None:
        document = data.draw(documents())
        history = read(document, data.draw(any_histories(document)))
        if history is not None:
            assert_steps(history, tablet)
            assert_handed_over(history, tablet, len(history.entries) // 2)

    compare()


def attempt(number: int, at: str, **more: Any) -> dict[str, Any]:
    skill = DOCUMENT["skills"][0]
    own = {"skill": skill["key"], "support": skill["rungs"][0], "help": DOCUMENT["help"][0], "result": "safe"}
    name = f"00000000-0000-4000-8000-{number:012d}"
    return {"id": name, "episode": E, "kind": "attempt", "at": at, "by": "T", **own, **more}


FORMULAS = {
    "a count that goes far": {"count": {"entry": {"kind": "attempt"}}, "at_most": 200},
    "many bits": {"all": [{"count": {"entry": {"by": f"T{n}"}}, "at_most": 60} for n in range(40)]},
    "a count by skill in time": {
        "count": {"entry": {"kind": "attempt"}}, "at_most": 2, "same_skill": True, "within": "P2D",
    },
    "a count that asks nothing": {
        "count": {"entry": {"kind": "attempt"}}, "at_least": 0, "after": {"entry": {"kind": "fall"}},
        "same_skill": True,
    },
    "a bound in time": {"once": {"entry": {"kind": "attempt"}}, "within": "PT1H"},
}  # fmt: skip  # a table: one formula a line
AT = ["1969-12-31T23:59:59.5Z", "1970-01-01T00:00:00Z", "2026-03-29T01:30:00.000001+01:00", "2254-12-31T23:59:59Z"]


@pytest.mark.parametrize("name", FORMULAS)
def test_numbers_that_a_reader_of_json_might_lose(name: str, tablet: Tablet) -> None:
    """Memories of more bits than a double has, instants before 1970, a `seq` of many digits, halves of characters."""
    rule = {"key": "r", "sentence": "s", "severity": "minor", "do_now": "d", "when": {"all": []}}
    late = {**rule, "key": "late", "expect": {"entry": {"kind": "fall"}}, "within": "P30D"}
    document = {**DOCUMENT, "rules": [{**rule, "require": FORMULAS[name]}, late]}
    facts = [attempt(n, at, by=f"T{n % 40}", seq=n * 10**17) for n, at in enumerate(AT * 25)]
    history = read(document, sorted(facts, key=lambda one: instant.read(one["at"])))
    assert history is not None
    assert len(history.entries) == 100
    for begin in (0, 50, 99):
        assert_handed_over(history, tablet, begin)
    half = read(document, [attempt(1, AT[1], episode="\ud800é"), attempt(2, AT[2], episode="\ud800é", by="\ud800")])
    assert half is not None
    assert_steps(half, tablet)
    assert_handed_over(half, tablet, 1)


def test_a_document_written_otherwise_lays_snapshots_out_alike(tablet: Tablet) -> None:
    """Equal digests mean equal snapshots: 1.0 is 1, and the order of names says nothing."""
    once = {"once": {"entry": {"kind": "attempt", "seq": 1}}}
    same = {"once": {"entry": {"seq": 1.0, "kind": "attempt"}}}
    rule = {"key": "r", "sentence": "s", "severity": "minor", "do_now": "d", "when": {"all": []}}
    documents_ = [{**DOCUMENT, "rules": [{**rule, "require": {"all": [once, b]}}]} for b in (once, same)]
    found = []
    for document in documents_:
        history = read(document, [attempt(1, AT[1], seq=1), attempt(2, AT[2])])
        assert history is not None
        found.append((history.protocol.digest, assert_steps(history, tablet)))
    assert found[0] == found[1]


def test_a_snapshot_of_another_protocol(tablet: Tablet) -> None:
    history = read(DOCUMENT, [attempt(1, AT[1])])
    assert history is not None
    snapshot = Episode(history.protocol, E).snapshot().decode()
    for document in ({**DOCUMENT, "title": "another"}, DOCUMENT):
        source = json.dumps(document)
        answer = tablet.ask("restore", document=source, snapshot=snapshot, facts=[], at=AT[2], role=None)
        assert ("stale" in answer) == (document is not DOCUMENT)


def test_a_snapshot_stays_small(tablet: Tablet) -> None:
    """A few kB, whatever the number of entries: what a step works on does not grow with the record."""
    days = [f"2026-{1 + n // 28:02d}-{1 + n % 28:02d}" for n in range(300)]
    facts = [attempt(n, f"{days[n // 10]}T10:{n % 10:02d}:00Z") for n in range(3000)]
    history = read(DOCUMENT, facts)
    assert history is not None
    ask = {"document": history.source, "at": "2027-01-01T00:00:00Z", "role": None}
    empty = Episode(history.protocol, E).snapshot().decode()
    sizes = [
        len(tablet.ask("restore", snapshot=empty, facts=history.lines[:most], **ask)["snapshot"])
        for most in (100, 3000)
    ]
    assert sizes[1] < sizes[0] + 100
