"""A rule's formula as pure-past linear temporal logic, and the automaton that MONA makes of it.

Oracle: ltlf2dfa 2.0.0 (PPLTL) with MONA 1.4 (`apt install mona`); automata as automata-lib 9.2.0. Traps: ltlf2dfa
mis-lexes names that begin with a keyword, so atoms are called x0, x1, …; the empty word means nothing to a rule.
Letters that no atom tells apart share a number, and the number is what the atoms x0, x1, … spell in binary.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

from automata.fa.dfa import DFA
from ltlf2dfa.parser.ppltl import PPLTLParser

Entry = dict[str, Any]
Formula = dict[str, Any]
Holds = Callable[[dict[str, Any], Entry], bool]  # whether an atom is true of a letter


def broken(rule: dict[str, Any]) -> Formula:
    return {"all": [rule["when"], {"not": rule["require"]}]}


class Translation:
    """From formulas over entries to PPLTL over the bits of a letter's number."""

    def __init__(self, letters: dict[str, Entry], holds: Holds) -> None:
        self.letters, self.holds = letters, holds
        self.sets: list[frozenset[str]] = []  # of letters, for each boolean part of the formula

    def text(self, formula: Formula, write: Callable[[frozenset[str]], str]) -> str:
        """PPLTL text; `write` puts down a set of letters. Status is written out from the entries that make it."""
        if self._boolean(formula):
            return write(frozenset(name for name, letter in self.letters.items() if self._true(formula, letter)))
        if "not" in formula:
            return f"(!{self.text(formula['not'], write)})"
        if "all" in formula:
            return "(" + " & ".join(self.text(one, write) for one in formula["all"]) + ")"
        if "any" in formula:
            return "(" + " | ".join(self.text(one, write) for one in formula["any"]) + ")"
        if "previous" in formula:
            return f"(Y({self.text(formula['previous'], write)}))"
        if "once" in formula:
            return f"(O({self.text(formula['once'], write)}))"
        if "historically" in formula:
            return f"(H({self.text(formula['historically'], write)}))"
        if "since" in formula:
            a, b = (self.text(one, write) for one in formula["since"])
            return f"({a} S {b})"
        if "status" in formula:
            return self._not_applicable(formula, write)
        return self._count(formula, write)

    def _count(self, formula: Formula, write: Callable[[frozenset[str]], str]) -> str:
        """Unrolled: n before are one before, and n - 1 before that. Of one skill `same_skill` says nothing."""
        assert set(formula) <= {"count", "at_least", "after", "same_skill"}
        counted, found = self.text(formula["count"], write), ""
        for _ in range(formula["at_least"]):
            one = f"({counted} & {found})" if found else counted
            if "after" in formula:
                after = self.text(formula["after"], write)
                found = f"(Y((!{after}) S ({one} & (!{after}))))"
            else:
                found = f"(Y(O({one})))"
        return found

    def _not_applicable(self, formula: Formula, write: Callable[[frozenset[str]], str]) -> str:
        """Where the opening's knee yields, yield_load does not apply while the last change of knee lacks yielding."""
        assert formula == {"status": ["not_applicable"], "skill": "yield_load"}
        change: Formula = {"entry": {"kind": "setting_changed", "setting": "knee"}}
        yields: Formula = {"entry": {"kind": "setting_changed", "features": "yielding"}}
        lacks: Formula = {"all": [change, {"not": yields}]}
        return self.text({"previous": {"since": [{"not": change}, lacks]}}, write)

    def _boolean(self, formula: Formula) -> bool:
        if "entry" in formula:
            return True
        if "not" in formula:
            return self._boolean(formula["not"])
        parts = formula.get("all", formula.get("any"))
        return parts is not None and all(self._boolean(one) for one in parts)

    def _true(self, formula: Formula, letter: Entry) -> bool:
        if "entry" in formula:
            return self.holds(formula["entry"], letter)
        if "not" in formula:
            return not self._true(formula["not"], letter)
        if "all" in formula:
            return all(self._true(one, letter) for one in formula["all"])
        return any(self._true(one, letter) for one in formula["any"])


def automaton(formula: Formula, letters: dict[str, Entry], holds: Holds) -> DFA:
    """Accepts the words at whose last letter the formula is true."""
    translation = Translation(letters, holds)
    sets: list[frozenset[str]] = []

    def gather(one: frozenset[str]) -> str:
        sets.append(one)
        return ""

    translation.text(formula, gather)
    numbers: dict[tuple[bool, ...], int] = {}
    number_of = {name: numbers.setdefault(tuple(name in one for one in sets), len(numbers)) for name in letters}
    bits = max(1, (len(numbers) - 1).bit_length())

    def write(one: frozenset[str]) -> str:
        spelt = [_spell(number, bits) for number in sorted({number_of[name] for name in one})]
        return "(" + " | ".join(spelt or ["(x0 & !x0)"]) + ")"

    dot = PPLTLParser()(translation.text(formula, write)).to_dfa()
    return _read(dot, number_of, bits)


def _spell(number: int, bits: int) -> str:
    return "(" + " & ".join(f"x{bit}" if number >> bit & 1 else f"!x{bit}" for bit in range(bits)) + ")"


def _read(dot: str, number_of: dict[str, int], bits: int) -> DFA:
    accepting = re.search(r"doublecircle\];([\d; ]*)\n", dot)
    final = set(re.findall(r"\d+", accepting.group(1))) if accepting else set()
    edges = re.findall(r'(\d+) -> (\d+) \[label="([^"]*)"\]', dot)
    (first,) = re.findall(r"init -> (\d+);", dot)
    by_number: dict[str, dict[int, str]] = {}
    for source, target, label in edges:
        guard = label.replace("~", " not ").replace("&", " and ").replace("|", " or ").replace("true", "True")
        for number in set(number_of.values()):
            values = {f"x{bit}": bool(number >> bit & 1) for bit in range(bits)}
            if eval(guard, {"__builtins__": {}}, values):  # noqa: S307 - MONA's own guards, over x0, x1, …
                by_number.setdefault(source, {})[number] = target
    moves = {state: {name: row[number] for name, number in number_of.items()} for state, row in by_number.items()}
    return DFA(
        states={*moves, "begin"},
        input_symbols=set(number_of),
        transitions={**moves, "begin": moves[first]},  # before the first letter nothing is broken
        initial_state="begin",
        final_states=final,
    ).minify()
