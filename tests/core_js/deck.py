"""What is compared between the cores: document, history and instant by number, the same in every run.

`dealt(number)` makes one of five kinds (KINDS), each with a document of its own but for the last. The whole conformance
set can be had in the same form, so that one comparison serves both, in Node and in the browser.
"""

from __future__ import annotations

import base64
import json
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from random import Random
from typing import Any

from api.fuzz import seeds
from api.fuzz.mutate import Mutator, spoiled
from tests import courses
from tests.careful_course import careful
from tests.conformance_set import all_cases, shared_document
from tests.core_js import quick
from tests.domain.random_histories import uuid
from tests.domain.random_walks import Walk


@dataclass(frozen=True)
class Dealt:
    """`deep`: the state is compared too, carried on by steps and through a snapshot; else the report alone."""

    name: str
    document: bytes
    history: bytes
    at: str | None
    deep: bool = True

    def asked(self) -> dict[str, Any]:
        """As JSON; bytes travel as base64, since what is no text is among them."""
        document, history = (base64.b64encode(one).decode() for one in (self.document, self.history))
        return {"document": document, "history": history, "at": self.at, "deep": self.deep}


def written(value: Any) -> bytes:
    return json.dumps(value).encode()


def as_lines(entries: list[Any], rng: Random | None = None) -> bytes:
    ascii_ = rng is None or rng.random() < 0.8
    lines = [json.dumps(entry, ensure_ascii=ascii_) for entry in entries]
    return "".join(f"{line}\n" for line in lines).encode("utf-8", "surrogatepass")


@cache
def _corpus() -> tuple[seeds.Seeds, Mutator]:
    corpus = seeds.load()
    return corpus, Mutator([*corpus.documents, *corpus.histories])


@cache
def _courses() -> list[list[dict[str, Any]]]:
    return [careful().entries, *(make().course.entries for make in courses.MISTAKES)]


def _walk(rng: Random) -> tuple[Any, list[Any]]:
    """A document of its own and a history that gets somewhere under it."""
    document = quick.document(rng)
    return document, Walk(document, rng.randrange(2**32)).history()


def _anything(rng: Random) -> tuple[Any, list[Any]]:
    """A document of its own and entries of every kind in any order."""
    document = quick.document(rng)
    return document, quick.history(rng, document)


def _course(rng: Random) -> tuple[Any, list[Any]]:
    """The default protocol with other thresholds, and a part of a course of weeks, in which things were left out, were
    late, were written twice or struck out."""
    document = shared_document("above_knee")
    for skill in rng.sample(document["skills"], 6):
        for stage in [skill["proven"], *skill["proven"].get("stages", [])]:
            if "in_a_row" in stage:
                stage["in_a_row"] = rng.randint(1, 4)
        if rng.random() < 0.3:
            skill["valid_days"] = rng.randint(1, 20)
    document |= {"gap_days": rng.randint(1, 30), "fall_review_days": rng.randint(0, 3)}
    document["rules"] = [rule for rule in document["rules"] if rng.random() < 0.9]
    entries = rng.choice(_courses())[: rng.choice((12, 40, 90, 180, 400))]
    entries = [one for number, one in enumerate(entries) if number == 0 or rng.random() < 0.95]
    for _ in range(rng.choice((0, 0, 1, 2, 4))):
        place = rng.randrange(len(entries))
        strike = {"id": uuid(90_000 + place), "kind": "struck_out", "entry": entries[place]["id"], "reason": "r"}
        late = {**entries[place], **strike, "at": rng.choice(entries)["at"]}
        entries.insert(rng.randint(place, len(entries)), rng.choice((late, rng.choice(entries))))
    return document, entries


def _changed_document(rng: Random) -> tuple[Any, list[Any]]:
    """Changed at random places: most are refused, and all in the same words."""
    corpus, mutator = _corpus()
    own = quick.document(rng)
    document = own if rng.random() < 0.5 else rng.choice(corpus.documents)
    document = (mutator.changed if rng.random() < 0.4 else mutator.gently)(document, rng)
    history = Walk(own, rng.randrange(2**32)).history() if rng.random() < 0.5 else rng.choice(corpus.histories)
    return document, history


def _changed_history(rng: Random) -> tuple[Any, list[Any]]:
    """Lines of the conformance set changed at random places; some are refused, some belong to no episode."""
    corpus, mutator = _corpus()
    entries = [
        (mutator.changed if rng.random() < 0.4 else mutator.gently)(one, rng) if rng.random() < 0.3 else one
        for one in rng.choice(corpus.histories)
    ]
    return shared_document(rng.choice(("small", "small", "above_knee"))), entries


KINDS = {_walk: 10, _anything: 6, _course: 1, _changed_document: 2, _changed_history: 1}
_ROUND = [kind for kind, share in KINDS.items() for _ in range(share)]
ROUND = len(_ROUND)


def dealt(number: int) -> Dealt:
    """The numbered one."""
    rng = Random(number)
    kind = _ROUND[number % ROUND]
    document, entries = kind(rng)
    changed = kind in (_changed_document, _changed_history)
    source, history = written(document), as_lines(entries, rng)
    if changed and rng.random() < 0.1:
        source = spoiled(source, rng)
    if changed and rng.random() < 0.2:
        history = spoiled(history, rng)
    instants = [one["at"] for one in entries if isinstance(one, dict) and isinstance(one.get("at"), str)]
    at = rng.choice(instants) if instants and rng.random() < 0.4 else None
    return Dealt(
        f"{kind.__name__.strip('_')} {number}", source, history, at, deep=kind is not _course or number % 3 == 0
    )


def conformance() -> Iterator[Dealt]:
    """The whole set: every case, refused documents included."""
    for case in all_cases():
        yield Dealt(case.name, written(case.document), as_lines(case.entries), case.at)
