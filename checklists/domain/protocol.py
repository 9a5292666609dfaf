"""A protocol version: one immutable document of skills, checks and rules, checked as it is read (SEMANTICS.md §2)."""

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import rfc8785

from .document import Check, Measure, Skill, Word, read_checks, read_measures, read_skills, read_words
from .errors import ProtocolRefused
from .places import Spot
from .rule import Rule, read_rules
from .vocabulary import RAILS, Vocabulary

_REQUIRED = ("key", "version", "title", "support", "help", "skills")
_OPTIONAL = ("gap_days", "fall_review_days", "deviations", "measures", "checks", "rules", "source", "note")


@dataclass(frozen=True, eq=False)
class Protocol:
    """What a clinic teaches, in which order, on which evidence, under which rules.

    Equal digests mean equal protocols.
    """

    document: dict[str, Any] = field(repr=False)
    key: str
    version: int
    title: str
    gap_days: int
    fall_review_days: int
    support: tuple[str, ...]
    help: tuple[str, ...]
    deviations: dict[str, Word]
    measures: dict[str, Measure]
    checks: dict[str, Check]
    skills: dict[str, Skill]
    rules: dict[str, Rule]
    words: Vocabulary = field(repr=False)

    @cached_property
    def digest(self) -> str:
        """SHA-256, in hexadecimal, of the RFC 8785 form of the document: the same however it was written."""
        return hashlib.sha256(rfc8785.dumps(_as_doubles(self.document))).hexdigest()

    @property
    def reference(self) -> str:
        """`key@version`, as an opening names it."""
        return f"{self.key}@{self.version}"

    @property
    def beside(self) -> str:
        """The help of somebody who is there and does nothing: the last but alone."""
        return self.help[max(len(self.help) - 2, 0)]

    @cached_property
    def compiled(self) -> Any:
        """Everything that is worked out once for all entries; kept with the protocol."""
        from .compiled import Compiled

        return Compiled(self)


def load_protocol(source: str | bytes | Mapping[str, Any]) -> Protocol:
    """Read and check a protocol document. Raises ProtocolRefused with the place of the first fault that is found."""
    document = dict(source) if isinstance(source, Mapping) else _parse(source)
    try:
        return _read(Spot(document))
    except RecursionError:
        raise ProtocolRefused("document", "nested too deeply") from None


def _read(top: Spot) -> Protocol:
    parts = top.fields(_REQUIRED, _OPTIONAL)
    support = parts["support"].words(once=True)
    help_ = parts["help"].words(once=True)
    for name, words in (("support", support), ("help", help_)):
        if not words:
            parts[name].refuse("must not be empty")
    for spot, word in zip(parts["support"].items(), support, strict=True):
        if word in RAILS:
            spot.refuse(f"{word!r} is not a support of its own; it stands in `both.rungs` only")
    deviations = read_words(parts.get("deviations"))
    measures = read_measures(parts.get("measures"))
    checks = read_checks(parts.get("checks"))
    words_ = Vocabulary(
        support,
        help_,
        dict.fromkeys(deviations, ""),
        dict.fromkeys(measures, ""),
        {key: check.steps for key, check in checks.items()},
    )
    skills = read_skills(parts.get("skills"), words_)
    words_ = Vocabulary(
        support,
        help_,
        words_.deviations,
        words_.measures,
        words_.checks,
        {key: frozenset(skill.rungs + skill.both_rungs) for key, skill in skills.items()},
        frozenset(tag for skill in skills.values() for tag in skill.tags),
    )
    for name in ("source", "note"):
        if name in parts:
            parts[name].text()
    return Protocol(
        document=top.value,
        key=parts["key"].text(),
        version=parts["version"].integer(0),
        title=parts["title"].text(),
        gap_days=parts["gap_days"].integer(0) if "gap_days" in parts else 28,
        fall_review_days=parts["fall_review_days"].integer(0) if "fall_review_days" in parts else 4,
        support=support,
        help=help_,
        deviations=deviations,
        measures=measures,
        checks=checks,
        skills=skills,
        rules=read_rules(parts.get("rules"), words_),
        words=words_,
    )


def _parse(source: object) -> Any:
    if not isinstance(source, str | bytes | bytearray):
        raise ProtocolRefused("document", "must be an object")
    try:
        return json.loads(source, object_pairs_hook=_once, parse_constant=_no_constant)
    except ProtocolRefused:
        raise
    except RecursionError:
        raise ProtocolRefused("document", "nested too deeply") from None
    except ValueError as fault:
        raise ProtocolRefused("document", f"is not JSON: {fault}") from None


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    """An object; a name that is written twice would silently hide what stood first."""
    found: dict[str, Any] = {}
    for name, value in pairs:
        if name in found:
            raise ProtocolRefused(name, "stands twice in one object")
        found[name] = value
    return found


def _no_constant(word: str) -> None:
    raise ProtocolRefused("document", f"is not JSON: {word} is not a number")


def _as_doubles(value: Any) -> Any:
    """The document with numbers as RFC 8785 knows them (IEEE 754 doubles)."""
    if isinstance(value, dict):
        return {name: _as_doubles(inner) for name, inner in value.items()}
    if isinstance(value, list):
        return [_as_doubles(inner) for inner in value]
    if isinstance(value, int) and not isinstance(value, bool) and abs(value) >= 2**53:
        return float(value)
    return value
