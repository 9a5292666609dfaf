"""The automaton of a machine, and the automaton of a rule as checklists.domain judges it, learned from outside.

The second follows the W-method (Chow 1978, from memory): words that reach each state, followed by every letter and by
words that tell the expected states apart. It finds every difference as long as the program needs no more states than it
shows to those words, and uses nothing of the program but its reports.
"""

from __future__ import annotations

import json
from collections import deque
from collections.abc import Callable, Hashable
from datetime import UTC, datetime, timedelta
from typing import Any

from automata.fa.dfa import DFA

from checklists.domain import load_protocol
from checklists.domain.replay import replay_lines
from tests.oracles.letters import ALL_FEATURES
from tests.oracles.machines import Machine

Word = tuple[str, ...]
Letters = dict[str, dict[str, Any]]
OPENED = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)


def of_machine(machine: type[Machine], letters: Letters) -> DFA:
    """Every state that the machine can reach, with the verdict of the letter that led there."""

    def move(state: tuple[Hashable, bool], letter: str) -> tuple[Hashable, bool]:
        one = machine()
        one.state = state[0]
        verdict = one.read(letters[letter])
        return (one.state, verdict)

    def moves(states: list[Any]) -> list[list[Any]]:
        return [[move(state, letter) for letter in letters] for state in states]

    return _explore((machine().state, False), list(letters), moves, lambda state: state[1])


def of_program(document: Any, rule: dict[str, Any], letters: Letters, expected: DFA) -> DFA:
    """A state is what the program says after each telling word; the word that reached it first stands for it."""
    telling = [(), *_telling_words(expected)]
    verdicts = _Verdicts({**document, "rules": [rule]}, rule["key"], letters)
    reached: dict[tuple[bool, ...], Word] = {}

    def rows(words: list[Word]) -> list[tuple[bool, ...]]:
        answers = iter(verdicts.at_the_last([word + end for word in words for end in telling]))
        found = [tuple(next(answers) for _ in telling) for _ in words]
        for word, row in zip(words, found, strict=True):
            reached.setdefault(row, word)
        return found

    def moves(states: list[tuple[bool, ...]]) -> list[list[tuple[bool, ...]]]:
        after = iter(rows([(*reached[state], letter) for state in states for letter in letters]))
        return [[next(after) for _ in letters] for _ in states]

    (begin,) = rows([()])
    return _explore(begin, list(letters), moves, lambda row: row[0])  # the answer after the empty telling word


def _explore(
    begin: Any, letters: list[str], moves: Callable[[list[Any]], list[list[Any]]], verdict: Callable[[Any], bool]
) -> DFA:
    """Breadth first; `moves` gives for each of some states where every letter leads."""
    transitions: dict[Any, dict[str, Any]] = {}
    waiting = [begin]
    while waiting:
        for state, row in zip(waiting, moves(waiting), strict=True):
            transitions[state] = dict(zip(letters, row, strict=True))
        seen = {target for row in transitions.values() for target in row.values()}
        waiting = sorted(seen - set(transitions), key=repr)
    return DFA(
        states=set(transitions),
        input_symbols=set(letters),
        transitions=transitions,
        initial_state=begin,
        final_states={state for state in transitions if verdict(state)},
    ).minify()


def _telling_words(automaton: DFA) -> list[Word]:
    """For every two states a shortest word after which one accepts and the other does not."""
    states, found = sorted(automaton.states, key=repr), set()
    for place, one in enumerate(states):
        for other in states[:place]:
            found.add(_tells_apart(automaton, one, other))
    return sorted(found - {()})


def _tells_apart(automaton: DFA, one: Any, other: Any) -> Word:
    waiting: deque[tuple[Any, Any, Word]] = deque([(one, other, ())])
    seen = {(one, other)}
    while waiting:
        left, right, word = waiting.popleft()
        if (left in automaton.final_states) != (right in automaton.final_states):
            return word
        for letter in sorted(automaton.input_symbols):
            pair = (automaton.transitions[left][letter], automaton.transitions[right][letter])
            if pair not in seen:
                seen.add(pair)
                waiting.append((*pair, (*word, letter)))
    raise AssertionError("two states of a minimal automaton are told apart by some word")


class _Verdicts:
    """What the program reports, many words in one replay: each is an episode of its own, one minute a letter."""

    def __init__(self, document: Any, rule: str, letters: Letters) -> None:
        self.protocol, self.rule, self.letters = load_protocol(json.dumps(document)), rule, letters

    def at_the_last(self, words: list[Word]) -> list[bool]:
        lines = [line for number, word in enumerate(words) for line in self._lines(number, word)]
        unread: list[int] = []
        reports = replay_lines(self.protocol, lines, None, report_line=lambda line, _: unread.append(line))
        alerts = {alert["entry"] for report in reports for alert in report["alerts"] if alert["rule"] == self.rule}
        assert unread == []
        return [word != () and _name(number, len(word)) in alerts for number, word in enumerate(words)]

    def _lines(self, number: int, word: Word) -> list[bytes]:
        opening = {"kind": "episode_opened", "side": "left", "features": ALL_FEATURES, "protocol": "above_knee@1"}
        entries = []
        for place, fields in enumerate([opening, *(self.letters[letter] for letter in word)]):
            at = (OPENED + timedelta(minutes=place)).strftime("%Y-%m-%dT%H:%M:%SZ")
            entries.append({"id": _name(number, place), "episode": f"{number:08}", "at": at, "by": "T1", **fields})
        return [json.dumps(entry).encode() for entry in entries]


def _name(number: int, place: int) -> str:
    return f"{number:08x}-0000-4000-8000-{place:012x}"
