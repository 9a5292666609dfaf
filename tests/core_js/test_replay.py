"""The core in JavaScript replays what the core in Python replays: the same bytes, complaints and exit status."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path
from random import Random
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from api.fuzz import seeds
from api.fuzz.mutate import Mutator, spoiled
from checklists.domain import load_protocol
from checklists.speed.histories import courses
from tests.conformance_set import Case, all_cases, shared_document
from tests.core_js.drawing import drawn
from tests.core_js.node import NODE, JavaScript, Python, as_lines
from tests.domain import histories as of_the_example
from tests.domain.example import DOCUMENT
from tests.domain.random_histories import CHECKS, DEVIATIONS, HELP, MEASURES, SUPPORT, documents, instants
from tests.domain.random_histories import histories as any_histories
from tests.domain.random_walks import Walk
from tests.domain.test_definition import CALM, SEEDS

CASES = [case for case in all_cases() if case.refusal is None]
ROOT = Path(__file__).parents[2]
WALKS = 10  # of one document, since a document takes longer to draw than to walk
LONG = pytest.mark.timeout(4 * 3600)  # for whoever asks for many histories


def written(value: Any) -> bytes:
    return json.dumps(value).encode()


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_the_conformance_set(case: Case, js: JavaScript, py: Python) -> None:
    document, history = written(case.document), as_lines(case.entries)
    said = py.replay(document, history, case.at)
    assert said.status == 0
    assert js.replay(document, history, case.at) == said


@LONG
def test_anything_at_all(js: JavaScript, py: Python, histories: int) -> None:
    @settings(max_examples=drawn(histories), deadline=None, suppress_health_check=CALM, database=None)
    @given(st.data())
    def compare(data: st.DataObject) -> None:
        document = data.draw(documents())
        source, lines = written(document), as_lines(data.draw(any_histories(document)))
        at = data.draw(st.none() | instants())
        assert js.replay(source, lines, at) == py.replay(source, lines, at)

    compare()


@LONG
def test_histories_that_get_somewhere(js: JavaScript, py: Python, histories: int) -> None:
    share = max(drawn(histories) // WALKS, 2)

    @settings(max_examples=share, deadline=None, suppress_health_check=CALM, database=None)
    @given(documents(), SEEDS, st.none() | instants())
    def compare(document: dict[str, Any], seed: int, at: str | None) -> None:
        source = written(document)
        for more in range(WALKS):
            lines = as_lines(Walk(document, seed + more).history())
            assert js.replay(source, lines, at) == py.replay(source, lines, at)

    compare()


def test_more_skills_than_a_machine_word_has_bits(js: JavaScript, py: Python) -> None:
    """JavaScript's own bit operators end at 32."""
    proven = {"support": "bars_one", "in_a_row": 1}
    skills = [
        {
            "key": f"s{number}",
            "title": "t",
            "rungs": ["bars_both", "bars_one", "none"],
            "proven": proven,
            "tags": ["seated"] if number % 9 == 8 else [],
            "after": [f"s{number - 7}"] if number >= 7 else [],
            "falls_back_on": ["foot"] if number % 2 else ["socket"],
        }
        for number in range(70)
    ]
    words = {
        "deviations": [{"key": key, "title": "t"} for key in DEVIATIONS],
        "measures": [{"key": key, "title": "t", "unit": "1"} for key in MEASURES],
        "checks": [{"key": key, "title": "t", "steps": steps} for key, steps in CHECKS.items()],
    }
    document = {"key": "many", "version": 1, "title": "t", "support": SUPPORT, "help": HELP, **words, "skills": skills}
    for seed in range(40):
        lines = as_lines(Walk(document, seed).history())
        assert js.replay(written(document), lines) == py.replay(written(document), lines), seed


@LONG
def test_histories_of_the_example(js: JavaScript, py: Python, histories: int) -> None:
    source = written(DOCUMENT)
    ats = st.none() | st.sampled_from(of_the_example.INSTANTS)

    @settings(max_examples=drawn(histories) // 2, deadline=None, suppress_health_check=CALM, database=None)
    @given(of_the_example.histories(), ats)
    def compare(facts: list[dict[str, Any]], at: str | None) -> None:
        lines = as_lines(facts)
        assert js.replay(source, lines, at) == py.replay(source, lines, at)

    compare()


@LONG
def test_changed_histories(js: JavaScript, py: Python, histories: int) -> None:
    """Of the conformance set, some in bytes that are no longer JSON: lines are complained of, episodes fall apart."""
    corpus = seeds.load()
    mutator = Mutator([*corpus.documents, *corpus.histories])
    sources = [written(shared_document(name)) for name in ("small", "above_knee")]
    complaints = 0
    for number in range(drawn(histories)):
        rng = Random(number)
        change = mutator.changed if rng.random() < 0.4 else mutator.gently
        entries = [change(one, rng) if rng.random() < 0.3 else one for one in rng.choice(corpus.histories)]
        lines = as_lines(entries) if rng.random() < 0.8 else spoiled(as_lines(entries), rng)
        source = rng.choice(sources)
        said = py.replay(source, lines)
        assert js.replay(source, lines) == said, f"history {number}"
        complaints += bool(said.said)
    assert complaints


@pytest.mark.parametrize("at", ["noon", "", "it's", "2026-02-30T10:00:00Z", "2026-03-02T10:00:00+24:00", "\u00ad"])
def test_a_bad_instant(at: str, js: JavaScript, py: Python) -> None:
    assert py.replay(written(DOCUMENT), b"", at).status == 1
    assert js.replay(written(DOCUMENT), b"", at) == py.replay(written(DOCUMENT), b"", at)


def test_texts_that_few_writers_send(js: JavaScript, py: Python) -> None:
    """Halves of characters, control characters and names that a writer of JSON might take for something else."""
    case = next(case for case in CASES if case.entries)
    for reference in ("\ud800", "é", "\U0001f600", "\uffff", '\x7f\x1f"\\/', "__proto__", "7", "constructor", ""):
        entries = [{**one, "episode": reference} for one in case.entries]
        lines = as_lines([*entries, *case.entries, {"episode": reference, "id": reference, reference: reference}])
        assert js.replay(written(case.document), lines) == py.replay(written(case.document), lines)


@pytest.mark.slow
@pytest.mark.parametrize("way", ["right", "refused", "bad_line", "bad_instant", "no_file", "surplus"])
def test_the_command(way: str, tmp_path: Path) -> None:
    """From end to end, in processes of their own."""
    case = next(case for case in CASES if case.entries)
    document, history = tmp_path / "protocol.json", tmp_path / "history.jsonl"
    document.write_bytes(written({} if way == "refused" else case.document))
    history.write_bytes(as_lines(case.entries) + (b"nonsense\n" if way == "bad_line" else b""))
    more = {"bad_instant": ["--at", "noon"], "surplus": ["surplus"], "right": ["--at", "2030-01-01T00:00:00Z"]}
    arguments = [str(document), str(tmp_path / "no.jsonl" if way == "no_file" else history), *more.get(way, [])]
    theirs = run([sys.executable, "manage.py", "replay", *arguments])
    ours = run([NODE, "tests/replay.mjs", *arguments])
    assert (ours.returncode, ours.stdout) == (theirs.returncode, theirs.stdout)
    assert bool(ours.stdout) == (way in ("right", "bad_line"))
    if way != "surplus":  # its usage is its own
        assert ours.stderr == theirs.stderr


def of_the_set(name: str) -> list[Any]:
    """All entries of the conformance set under one document: many of them again, or under another's id."""
    document = shared_document(name)
    return [entry for case in CASES if case.document == document for entry in case.entries]


def of_the_demo() -> list[Any]:
    """The courses of people of the invented clinic."""
    made = courses(load_protocol(json.dumps(shared_document("above_knee"))), facts=250, different=6)
    return [fact for course in made for fact in course.facts]


@pytest.mark.slow
@pytest.mark.parametrize("name", ["small", "above_knee", "demo"])
@pytest.mark.parametrize("at", [None, "2026-03-09T12:00:00+01:00"])
def test_the_command_on_all_that_there_is(name: str, at: str | None, tmp_path: Path) -> None:
    entries = of_the_demo() if name == "demo" else of_the_set(name)
    document, history = tmp_path / "protocol.json", tmp_path / "history.jsonl"
    document.write_bytes(written(shared_document("small" if name == "small" else "above_knee")))
    history.write_bytes(as_lines(entries))
    arguments = [str(document), str(history), *(["--at", at] if at else [])]
    theirs = run([sys.executable, "manage.py", "replay", *arguments])
    ours = run([NODE, "tests/replay.mjs", *arguments])
    assert (ours.returncode, ours.stdout, ours.stderr) == (theirs.returncode, theirs.stdout, theirs.stderr)
    assert len(entries) > 150
    assert len(ours.stdout) > 1_000


def run(command: list[str]) -> subprocess.CompletedProcess[bytes]:
    env = {**os.environ, "NODE_OPTIONS": ""}
    return subprocess.run(command, cwd=ROOT, env=env, capture_output=True, timeout=60, check=False)
