"""A naive reference implementation of checklists/domain/SEMANTICS.md: the whole contract, word for word.

Slow and obvious on purpose. It uses no code of checklists.domain, so that the two can be held against each other.
"""

from __future__ import annotations

from typing import Any

from tests.domain.definition_builtin import built_in_broken_at, struck_danger
from tests.domain.definition_document import DocumentRefused, check_document
from tests.domain.definition_entry import EntryRefused, parse, same_content
from tests.domain.definition_fold import Entry, Fold, when
from tests.domain.definition_formula import broken_at
from tests.domain.definition_formula_words import check_rule_formulas
from tests.domain.definition_words import BESIDE, BUILT_IN, KIND_ORDER, instant

__all__ = ["DocumentRefused", "Record", "load", "read_lines", "replay", "report"]


def load(sent: Any) -> dict[str, Any]:
    """A protocol document, checked; raises DocumentRefused with the place of the fault."""
    document = check_document(sent)
    for at, rule in enumerate(document["rules"]):
        check_rule_formulas(rule, document, ["rules", at])
    return document


def in_order(entry: Entry) -> tuple[Any, ...]:
    """Section 1, 'Order'."""
    opened = entry["kind"] == "episode_opened"
    return (when(entry), entry["seq"], -1 if opened else KIND_ORDER.index(entry["kind"]), entry["id"])


class Record:
    """What is kept of one episode: entries as received, and the refusals by themselves."""

    def __init__(self) -> None:
        self.stored: list[tuple[int, Entry]] = []  # (place in the file, parsed entry)
        self.refused: list[tuple[int, Any, str]] = []

    def refuse(self, place: int, sent: dict[str, Any], error: str) -> None:
        name = sent.get("id")
        self.refused.append((place, name if isinstance(name, str) else None, error))


def read_lines(lines: list[dict[str, Any]], document: dict[str, Any]) -> dict[str, Record]:
    """Receive entries of many episodes, in the file's order."""
    records: dict[str, Record] = {}
    taken: dict[str, dict[str, Any]] = {}
    for place, sent in enumerate(lines):
        record = records.setdefault(sent["episode"], Record())
        try:
            entry = parse(sent, document)
        except EntryRefused as error:
            record.refuse(place, sent, str(error))
            continue
        if entry["id"] not in taken:
            taken[entry["id"]] = sent
            record.stored.append((place, entry))
        elif not same_content(taken[entry["id"]], sent):
            record.refuse(place, sent, "id: received before with other content, or in another episode")
    return records


def settle(record: Record) -> tuple[list[Entry], list[Entry], list[tuple[int, Any, str]]]:
    """The entries of the fold in order, the strike-outs that hold, and all that is refused, in the file's order."""
    entries = [entry for _, entry in record.stored]
    by_id = {entry["id"]: entry for entry in entries}
    refused = list(record.refused)
    strikes = []
    for place, entry in record.stored:
        if entry["kind"] == "struck_out":
            if by_id.get(entry["entry"], {}).get("kind") == "struck_out":
                refused.append((place, entry["id"], "entry: a strike-out is not struck out"))
            else:
                strikes.append(entry)
    struck = {strike["entry"] for strike in strikes}
    kept = [entry for entry in entries if entry["kind"] != "struck_out" and entry["id"] not in struck]
    kept = [entry for entry in kept if entry["kind"] not in BESIDE]  # section 8
    openings = sorted((entry for entry in kept if entry["kind"] == "episode_opened"), key=in_order)
    for place, entry in record.stored:
        if entry["id"] in [further["id"] for further in openings[1:]]:
            refused.append((place, entry["id"], "kind: the episode is opened already"))
    others = sorted((entry for entry in kept if entry["kind"] != "episode_opened"), key=in_order)
    refused.sort(key=lambda one: one[0])
    if not openings:
        refused.append((len(record.stored), None, "episode_opened: missing"))
    return openings[:1] + others, sorted(strikes, key=in_order), refused


def report(episode: str, record: Record, document: dict[str, Any], at: str | None) -> dict[str, Any]:
    """Section 7: the line that replay prints for one episode."""
    entries, strikes, refused = settle(record)
    if at is None:
        # Last in time; of a tie, in order, where the opening stands before everything.
        def last(entry: Entry) -> tuple[Any, ...]:
            return (when(entry), entry["kind"] != "episode_opened", *in_order(entry))

        by_time = sorted(entries + strikes, key=last)
        at = by_time[-1]["at"] if by_time else None
    until = instant(at) if at is not None else None
    fold = Fold(document, entries)
    alerts = _alerts(fold, strikes, {entry["id"]: entry for _, entry in record.stored}, until)
    n = sum(1 for e in entries if e["kind"] == "episode_opened" or (until is not None and when(e) <= until))
    skills = {key: fold.status(key, n, until) if until is not None else _untouched(fold, key) for key in fold.skills}
    return {
        "episode": episode,
        "at": at,
        "alerts": alerts,
        "skills": skills,
        "refused": [{"entry": entry, "error": error} for _, entry, error in refused],
    }


def _untouched(fold: Fold, skill: str) -> str:
    """The status where no entry is: no instant is needed."""
    if not fold.applicable(skill, 0):
        return "not_applicable"
    return "blocked" if fold.prerequisites(skill, 0) else "open"


def _alerts(fold: Fold, strikes: list[Entry], stored: dict[str, Entry], until: Any) -> list[dict[str, Any]]:
    """In record order (a strike-out at its own place), then the document's rules, then the built-in ones."""
    document_breaks = {rule["key"]: broken_at(rule, fold, until) for rule in fold.document["rules"]}
    opening = [entry for entry in fold.entries if entry["kind"] == "episode_opened"]
    others = [entry for entry in fold.entries if entry["kind"] != "episode_opened"]
    alerts = []
    for entry in opening + sorted(others + strikes, key=in_order):
        if entry["kind"] != "episode_opened" and when(entry) > until:
            continue
        broken: list[tuple[str, str]] = []
        if entry["kind"] == "struck_out":
            if entry["entry"] in stored and struck_danger(fold, stored[entry["entry"]]):
                broken.append(("struck_danger", BUILT_IN["struck_danger"]))
        else:
            i = [e["id"] for e in fold.entries].index(entry["id"])
            for rule in fold.document["rules"]:
                if i in document_breaks[rule["key"]]:
                    broken.append((rule["key"], rule["severity"]))
            for key, severity in BUILT_IN.items():
                if built_in_broken_at(key, fold, i, until):
                    broken.append((key, severity))
        for key, severity in broken:
            alerts.append({"rule": key, "entry": entry["id"], "at": entry["at"], "severity": severity})
    return alerts


def replay(sent: Any, lines: list[dict[str, Any]], at: str | None = None) -> list[dict[str, Any]]:
    """All episodes of some lines, in order of their reference."""
    document = load(sent)
    records = read_lines(lines, document)
    return [report(episode, records[episode], document, at) for episode in sorted(records)]
