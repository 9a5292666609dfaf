"""What the core in Python refuses, the core in JavaScript refuses in the same words; what it takes is the same too."""

from __future__ import annotations

import json
from random import Random
from typing import Any

import pytest

from api.fuzz import seeds
from api.fuzz.mutate import Mutator, spoiled
from checklists.domain import FIELDS
from tests.conformance_set import Case, all_cases
from tests.core_js.node import JavaScript, Python
from tests.domain import test_entry_refusals, test_protocol_refusals, test_reception
from tests.domain.example import DOCUMENT, document

REFUSED = [case for case in all_cases() if case.refusal is not None]
CORPUS = seeds.load()
MUTATOR = Mutator([*CORPUS.documents, *CORPUS.histories])
DOCUMENTS = [one for one in CORPUS.documents if isinstance(one, dict) and "skills" in one]
RECEPTIONS: list[dict[str, Any]] = [
    {},
    *(
        {"now": "2026-11-25T09:00:00+00:00", "both": both, "signing": sign}
        for both in (True, False)
        for sign in (True, False)
    ),
]
NO_DOCUMENTS = [
    *(
        "",
        " ",
        "[",
        "[]",
        "null",
        "3",
        '"x"',
        "nul",
        "tru",
        "-",
        "1.",
        "01",
        "1e",
        "[1,]",
        "[1 2]",
        '{"a" 1}',
        '{"a":}',
        '{"a":1,}',
    ),
    *(
        '{"a":1 "b"}',
        "{a: 1}",
        '{"key": "a", "key": "b"}',
        '{"key": NaN}',
        '[Infinity, {"a": 1, "a": 2}]',
        "-Infinity",
        '"',
        '"\\',
    ),
    *(
        '"\\x"',
        '"\\u12"',
        '"\\u12G4"',
        '"\\ud83d\\u12"',
        '"a\nb"',
        '{"é\U0001f600": \n\n  x}',
        "[1]]",
        "\ufeff{}",
        "{}\ufeff",
    ),
    *("[" * 100_000, "1" * 4_301, "\x00", "\x00\x00\x00[", "[\x00", "[\x00]\x00", "[\x00\x00\x00]\x00\x00\x00"),
]
NO_UTF8 = [
    *(
        b"\xff\xfe{",
        b"\xef\xbb\xbf{}",
        b"\xef\xbb\xbf{",
        b"\xc3",
        b"[\x80]",
        b"[\xc3(]",
        b"[\xe2\x82]",
        b"[\xe2\x82",
        b"[\xf0\x9f\x98",
    ),
    *(
        b"[\xf5\x80]",
        b"[\xed\xa0\x80]",
        b'["\xed\xa0\x80"]',
        b"[\xed\xa0]",
        b"[\xe0\x80\x80]",
        b"[\xf4\x90\x80\x80]",
        b"[\xc0\xaf]",
    ),
]


def written(value: Any) -> bytes:
    return json.dumps(value).encode()


@pytest.mark.parametrize("case", REFUSED, ids=lambda case: case.name)
def test_documents_of_the_conformance_set(case: Case, js: JavaScript, py: Python) -> None:
    source = written(case.document)
    assert py.load(source).startswith("refused: ")
    assert js.load(source) == py.load(source)


@pytest.mark.parametrize("place", test_protocol_refusals.FAULTS)
def test_documents_with_one_fault(place: str, js: JavaScript, py: Python) -> None:
    for spoil in test_protocol_refusals.FAULTS[place]:
        spoilt = document()
        spoil(spoilt)
        source = written(spoilt)
        assert py.load(source).startswith("refused: ")
        assert js.load(source) == py.load(source)


def test_a_formula_that_nobody_can_read(js: JavaScript, py: Python) -> None:
    for depth in (99, 100, 101, 300):
        formula: dict[str, Any] = {"all": []}
        for _ in range(depth):
            formula = {"not": formula}
        spoilt = document()
        spoilt["rules"][0]["when"] = formula
        assert js.load(written(spoilt)) == py.load(written(spoilt))


@pytest.mark.parametrize(
    "source", [*(text.encode() for text in NO_DOCUMENTS), *NO_UTF8], ids=lambda source: repr(source[:16])
)
def test_what_is_no_document_at_all(source: bytes, js: JavaScript, py: Python) -> None:
    assert py.load(source).startswith("refused: ")
    assert js.load(source) == py.load(source)


def test_the_digest_however_the_document_was_written(js: JavaScript, py: Python) -> None:
    spread = json.dumps(DOCUMENT, indent=3, sort_keys=True).replace('"version": 3', '"version": 3.0').encode()
    assert js.load(spread) == py.load(spread) == py.load(written(DOCUMENT))
    odd = document(title='\u20ac \U0001f600 \x7f " \\ \u2028 é', version=1e21, gap_days=2**60, note="/\b\f\n\r\t\x01")
    assert not py.load(written(odd)).startswith("refused: ")
    assert js.load(written(odd)) == py.load(written(odd))


def test_changed_documents(js: JavaScript, py: Python, histories: int) -> None:
    """Of the conformance set and the default one, at random places; some as bytes that are no longer JSON."""
    refused = 0
    for number in range(histories):
        rng = Random(number)
        one = rng.choice(DOCUMENTS)
        changed = MUTATOR.changed(one, rng) if rng.random() < 0.6 else MUTATOR.gently(one, rng)
        source = json.dumps(changed, ensure_ascii=rng.random() < 0.5).encode("utf-8", "surrogatepass")
        if rng.random() < 0.3:
            source = spoiled(source, rng)
        said = py.load(source)
        assert js.load(source) == said, f"document {number}"
        refused += said.startswith("refused: ")
    assert 0.1 < refused / histories < 0.9


@pytest.mark.parametrize("kind", test_entry_refusals.KINDS)
def test_entries_that_miss_a_field_or_hold_null(kind: str, js: JavaScript, py: Python) -> None:
    whole = {**test_entry_refusals.BASE, "kind": kind, **test_entry_refusals.KINDS[kind]}
    for name in FIELDS[kind]:
        less = {field: value for field, value in whole.items() if field != name}
        for entry in (whole, less, {**whole, name: None}, {**whole, f"{name}s": 1}):
            assert_same(js, py, written(DOCUMENT), entry)


@pytest.mark.parametrize(("name", "kind", "value"), test_entry_refusals.FAULTS)
def test_entries_with_one_fault(name: str, kind: str, value: Any, js: JavaScript, py: Python) -> None:
    whole = {**test_entry_refusals.BASE, "kind": kind, **test_entry_refusals.KINDS[kind], name: value}
    entry = {field: one for field, one in whole.items() if one is not ...}
    assert str(assert_same(js, py, written(DOCUMENT), entry)).startswith(f"refused: {name}: ")


@pytest.mark.parametrize("entry", [None, [], "x", 3, {}, {"kind": ["attempt"]}, {"kind": {}}, {"kind": "'\"\n\u00ad"}])
def test_what_is_no_entry_at_all(entry: Any, js: JavaScript, py: Python) -> None:
    assert str(assert_same(js, py, written(DOCUMENT), entry)).startswith("refused: ")


@pytest.mark.parametrize(
    "sent", [case[1] for case in test_reception.CASES], ids=[case[0] for case in test_reception.CASES]
)
def test_entries_as_the_server_receives_them(sent: dict[str, Any], js: JavaScript, py: Python) -> None:
    for both in (True, False):
        for signing in (True, False):
            how = {"now": test_reception.NOW.isoformat(), "both": both, "signing": signing}
            assert_same(js, py, written(test_reception.SMALL), sent, **how)


def test_changed_entries(js: JavaScript, py: Python, histories: int) -> None:
    """Of the conformance set, at random places, read as in a replay and as the server receives them."""
    sources = [source for source in map(written, DOCUMENTS) if not py.load(source).startswith("refused: ")]
    refused = 0
    for number in range(histories):
        rng = Random(number)
        source = sources[number * len(sources) // histories]
        one = rng.choice(CORPUS.entries)
        changed = MUTATOR.changed(one, rng) if rng.random() < 0.5 else MUTATOR.gently(one, rng)
        refused += isinstance(assert_same(js, py, source, changed, **rng.choice(RECEPTIONS)), str)
    assert 0.1 < refused / histories < 0.95


def assert_same(js: JavaScript, py: Python, source: bytes, entry: Any, **how: Any) -> Any:
    """What both say of an entry under a document, which is one thing."""
    said = py.entry(source, written(entry), **how)
    assert js.entry(source, written(entry), **how) == said, entry
    return said
