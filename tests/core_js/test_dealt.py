"""Thousands of documents and histories, dealt by number (deck.py): both cores print, say and keep the same.

`--histories 20000` deals as many; what was compared is printed at the end, counted by what could have differed.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

import pytest

from tests.conformance_set import all_cases
from tests.core_js.comparing import compare
from tests.core_js.deck import ROUND, Dealt, as_lines, conformance, dealt, written
from tests.core_js.node import JavaScript

SHARES = 10
LONG = pytest.mark.timeout(4 * 3600)  # for whoever asks for many


@LONG
@pytest.mark.parametrize("share", range(SHARES))
def test_documents_and_histories(share: int, js: JavaScript, histories: int, counted: Callable[..., None]) -> None:
    numbers = range(share, max(histories, SHARES * ROUND // 2), SHARES)
    counted("Node", compare(map(dealt, numbers), js.compared))


def test_the_conformance_set(js: JavaScript, counted: Callable[..., None]) -> None:
    counted("Node, the conformance set", compare(conformance(), js.compared))


def test_the_conformance_set_as_of_every_instant_in_it(js: JavaScript, counted: Callable[..., None]) -> None:
    """And as if all that was struck out had not been written yet: every beginning of a short history is one."""
    counted("Node, every instant", compare(_every_instant(), js.compared))


def _every_instant() -> Iterator[Dealt]:
    for case in all_cases():
        if case.refusal is not None or len(case.entries) > 12:
            continue
        document, whole = written(case.document), as_lines(case.entries)
        for number, entry in enumerate(case.entries):
            if isinstance(at := entry.get("at"), str):
                yield Dealt(f"{case.name} as of entry {number}", document, whole, at, deep=False)
            yield Dealt(f"{case.name} until {number}", document, as_lines(case.entries[:number]), None, deep=False)
