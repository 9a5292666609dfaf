"""What the core says, in the reader's language: the list of its sentences is complete and none of them can be taken for
another, and pages and tablet say the same of the same text.

The texts are those that the core itself makes: over the whole conformance set, over generated documents and histories,
and out of its source for the refusals that are rare.
"""

from __future__ import annotations

import ast
import json
import re
import subprocess
from collections.abc import Iterable, Iterator
from functools import cache
from itertools import chain
from pathlib import Path
from typing import Any

import pytest
from django.utils import translation

from checklists.domain import BUILTIN_RULES
from checklists.person.first import BEFORE
from checklists.pictures import names
from checklists.words.sentences import SENTENCES, forms_of, said
from clinic.run.places import ROOT
from tests.core_js import deck, reference
from tests.core_js.node import NODE

GENERATED = 60  # documents and histories besides the conformance set: three of each round of the deck
STATIC = ROOT / "checklists" / "static" / "checklists"
DOMAIN = ROOT / "checklists" / "domain"


def _reported(answer: dict[str, Any]) -> Iterator[str]:
    """Sentences of the report, and the refusal of a document."""
    for line in answer["said"].splitlines():
        if line.startswith("protocol refused at "):
            yield line.removeprefix("protocol refused at ")
    for report in map(json.loads, filter(None, answer["out"].split("\n"))):
        yield from (one["error"] for one in report["refused"])


def _advised(says: dict[str, Any]) -> Iterator[str]:
    """Sentences of a state: those of a rule of the protocol's own are the protocol's."""
    for status in says["statuses"].values():
        yield from status["reasons"]
    yield from (step["why"] for step in says["next"])
    yield from (one["sentence"] for one in says["first"] if one["key"] in BUILTIN_RULES)
    yield from chain.from_iterable(says["lacks"])
    for advice in says["advice"]:
        for broken in advice["breaks"]:
            if broken["rule"] in BUILTIN_RULES:
                yield from (broken["sentence"], broken["do_first"])


def _refusals() -> Iterator[str]:
    """Every refusal that stands in the core's source in so many words: `refuse("…")`, `EntryRefused(…, "…")`."""
    for path in sorted(DOMAIN.glob("*.py")):
        for node in ast.walk(ast.parse(path.read_text())):
            if isinstance(node, ast.Call) and ast.unparse(node.func).endswith(("refuse", "EntryRefused", "Refused")):
                reason = node.args[-1] if node.args else None
                if isinstance(reason, ast.Constant) and isinstance(reason.value, str) and " " in reason.value:
                    yield reason.value if ": " in reason.value[:12] else f"field: {reason.value}"


@cache
def spoken() -> tuple[str, ...]:
    """Every text that the core made, each once."""
    found: dict[str, None] = {}
    for rule in BUILTIN_RULES.values():
        found |= dict.fromkeys((rule.sentence, rule.do_now))
    found |= dict.fromkeys((*BEFORE.values(), *_refusals()))
    for dealt in chain(deck.conformance(), map(deck.dealt, range(GENERATED))):
        answer = reference.compared(dealt)
        found |= dict.fromkeys(_reported(answer))
        if answer["state"]:
            found |= dict.fromkeys(_advised(answer["state"]["says"]))
    return tuple(text for text in found if text)


def entries(text: str) -> list[str]:
    """The entries of the list that this text, as a whole, can be."""
    return [one for one in SENTENCES if one == text] + [form.sentence for form, _ in forms_of(text)]


def pieces(text: str) -> Iterator[tuple[str, list[str]]]:
    """The text as one sentence or several, one after the other, each with what it can be."""
    found = entries(text)
    if not found:
        for end in (stop.start() + 1 for stop in re.finditer(r"[.:;] ", text)):
            if head := entries(text[:end]):
                yield text[:end], head
                yield from pieces(text[end + 1 :])
                return
    yield text, found


def _wrong(texts: Iterable[str]) -> dict[str, list[str]]:
    return {piece: found for text in texts for piece, found in pieces(text) if len(found) != 1}


def test_every_sentence_of_the_core_is_one_of_the_list_and_no_other() -> None:
    assert _wrong(spoken()) == {}


def test_most_of_the_list_was_said() -> None:
    """What was not is said by the record, the signing and the pages, not by the core."""
    said_of = {found[0] for text in spoken() for _, found in pieces(text) if found}
    assert len(spoken()) > 600
    assert len(said_of) > 115


def test_a_sentence_that_is_missing_or_can_be_two_is_found() -> None:
    assert _wrong(["The knee sings."]) == {"The knee sings.": []}
    assert _wrong(["Stop. Review the fall."]) == {"Stop. Review the fall.": []}
    assert _wrong(["Until then only in the bars with somebody at hand."]) == {}


def _in_javascript(texts: list[str], skills: list[dict[str, str]], folder: Path) -> list[tuple[str, list[str]]]:
    """The modules as a page has them beside each other: those of both apps under one root."""
    for app in ("checklists", "clinic"):
        (folder / app).symlink_to(ROOT / app / "static" / app)
    told = [ROOT / "tests/core_js/said.mjs", folder / "checklists/words/said.js", folder / "clinic/words/es.js"]
    done = subprocess.run(
        [NODE, "--preserve-symlinks", *map(str, told)],
        input=json.dumps({"texts": texts, "skills": skills}),
        capture_output=True,
        text=True,
        check=True,
        timeout=120,
    )
    return [(one[0], one[1]) for one in json.loads(done.stdout)]


def test_pages_and_tablet_say_the_same_of_the_same_text(tmp_path: Path) -> None:
    """What the core said, the texts of the default protocol, and texts that are no sentence at all."""
    protocol = json.loads((ROOT / "checklists/protocols/above_knee.json").read_text())
    own = [one[key] for one in protocol["rules"] for key in ("sentence", "do_now")]
    odd = [
        "",
        "Zork.",
        "2 of 3",
        "proven",
        "3 Mar, R.A.",
        "3 Mai, R.A.",
        "a; b: c. d",
        "'x': 'y'",
        "Rule a_b.",
        "½ ³",
    ]
    texts = [*spoken(), *own, *odd, *(skill["title"] for skill in protocol["skills"])]
    with translation.override("es"):
        here = [(said(text), [form.sentence for form, _ in forms_of(text)]) for text in texts]
        titles = [(skill["title"], names.short(skill["key"], skill["title"])) for skill in protocol["skills"]]
    there = _in_javascript(texts, [{"title": title, "name": name} for title, name in titles], tmp_path)
    assert [both for both in zip(texts, here, there, strict=True) if both[1] != both[2]] == []
    changed = sum(text != one[0] for text, one in zip(texts, here, strict=True))
    assert changed > 0.95 * len(texts)


@pytest.mark.parametrize("language", ["en-gb", "es"])
def test_a_sentence_keeps_what_stands_in_its_places(language: str) -> None:
    with translation.override(language):
        told = said("Signed off on 3 Apr 2026 by Runa Achterling; valid until 5 Oct 2026.")
    assert "Runa Achterling" in told
    assert ("3 abr 2026" in told, "5 oct 2026" in told) == ((language == "es"),) * 2


@pytest.mark.parametrize(
    ("language", "told"),
    [
        ("en-gb", "Not yet signed off, or no longer current: Weight over the forefoot; Stairs up; and 2 more."),
        ("es", "Aún sin superar o ya no vigente: Peso sobre el antepié; Subir escaleras; y 2 más."),
    ],
)
def test_a_skill_has_one_name_wherever_it_is_read(language: str, told: str) -> None:
    """The core names skills by their titles, of which one has a semicolon of its own."""
    protocol = json.loads((ROOT / "checklists/protocols/above_knee.json").read_text())
    titles = "; ".join(one["title"] for one in protocol["skills"] if one["key"] in ("weight_shift", "stair_up"))
    with translation.override(language):
        assert said(f"Not yet signed off, or no longer current: {titles}; and 2 more.") == told
