"""What is given a changed example. Each target may refuse in its own words (`refusals`); anything else is a fault."""

from __future__ import annotations

import io
import json
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from random import Random
from typing import Any

from django import forms
from django.core.exceptions import ImproperlyConfigured
from django.http import QueryDict
from django.urls import get_resolver
from rest_framework.exceptions import APIException
from rest_framework.serializers import Serializer

from api.fuzz.mutate import Mutator, as_query, spoiled
from api.fuzz.seeds import Seeds
from api.parsing import FastJsonParser
from checklists.domain import EntryRefused, Episode, Protocol, ProtocolRefused, load_protocol, parse_entry, same_content
from checklists.domain.replay import as_line, replay_lines
from checklists.record.importing import batches
from clinic.errors import Refusal

NOW = datetime(2026, 11, 25, 12, tzinfo=UTC)
OURS = ("clinic.", "caseload.", "checklists.", "api.")
Tried = Callable[[Random], Any]


@dataclass(frozen=True)
class Target:
    """A name, how often it is tried, how an input is made, and what is done with it."""

    name: str
    weight: int
    make: Callable[[Random], Any]
    try_it: Callable[[Any], object]
    refusals: tuple[type[Exception], ...] = ()


class Targets:
    """All of them, on one set of seeds."""

    def __init__(self, seeds: Seeds) -> None:
        self._seeds = seeds
        self._protocol = load_protocol(seeds.documents[0])
        self._small = load_protocol(seeds.documents[1])
        self._mutator = Mutator([*seeds.documents, *seeds.histories])
        self._forms, self._shapes = _forms(), _shapes()

    def all(self) -> list[Target]:
        """Every target. The weights follow what each costs and how much of it there is to reach."""
        return [
            Target("entry", 40, self._entry, self._read_entry, (EntryRefused,)),
            Target("document", 6, self._document, self._load, (ProtocolRefused, EntryRefused)),
            Target("history", 8, self._history, self._replay, (EntryRefused,)),
            Target("lines", 6, self._lines, self._replay_lines),
            Target("body", 14, self._body, self._parse_body, (APIException,)),
            Target("import", 6, self._lines, lambda body: list(batches(io.BytesIO(body)))),
            Target("shape", 12, self._for(self._shapes), self._check_shape, (APIException, Refusal)),
            Target("form", 8, self._for(self._forms), self._check_form),
        ]

    # -- making -------------------------------------------------------------------------------------------------------
    def _entry(self, rng: Random) -> Any:
        change = self._mutator.gently if rng.random() < 0.4 else self._mutator.changed
        return change(rng.choice(self._seeds.entries), rng)

    def _document(self, rng: Random) -> Any:
        base = self._seeds.documents[0 if rng.random() < 0.2 else 1]
        if rng.random() < 0.3:
            base = {**base, **rng.choice(self._seeds.documents[2:])}
        value = (self._mutator.gently if rng.random() < 0.5 else self._mutator.changed)(base, rng)
        return _bytes(value, rng) if rng.random() < 0.3 else value

    def _history(self, rng: Random) -> list[Any]:
        history = rng.choice(self._seeds.histories)
        at = rng.randrange(len(history))
        many = [
            *history[:at],
            *[self._mutator.changed(history[at], rng) for _ in range(rng.choice((1, 2)))],
            *history[at:],
        ]
        if rng.random() < 0.3:
            rng.shuffle(many)
        return many

    def _lines(self, rng: Random) -> bytes:
        body = b"\n".join(_dumped(entry, rng) for entry in self._history(rng))
        return spoiled(body, rng) if rng.random() < 0.7 else body

    def _body(self, rng: Random) -> bytes:
        return _bytes({"entries": self._history(rng)[:3]} if rng.random() < 0.5 else self._entry(rng), rng)

    def _for(self, kinds: dict[str, Any]) -> Callable[[Random], tuple[str, Any]]:
        names = sorted(kinds)

        def make(rng: Random) -> tuple[str, Any]:
            name = rng.choice(names)
            filled = {field: self._mutator.something(rng, field) for field in kinds[name] if rng.random() < 0.9}
            return name, self._mutator.changed(filled, rng)

        return make

    # -- trying -------------------------------------------------------------------------------------------------------
    def _read_entry(self, obj: Any) -> None:
        """By a small protocol as history, and by the default one as it is received."""
        with suppress(EntryRefused):
            parse_entry(obj, self._small)
        parse_entry(obj, self._protocol, now=NOW)

    def _load(self, source: Any) -> None:
        self._follow(load_protocol(source), self._seeds.histories[0])

    def _replay(self, history: list[Any]) -> None:
        self._follow(self._small, history)

    def _follow(self, protocol: Protocol, history: list[Any]) -> None:
        """A whole record, then everything that is asked of it; what is appended gives what a replay gives."""
        entries = []
        for obj in history:
            try:
                entries.append(parse_entry(obj, protocol))
            except EntryRefused:
                continue
            same_content(obj, obj)
        replayed = Episode.replay(protocol, entries, reference="E1")
        episode = Episode.restore(protocol, replayed.episode.snapshot())
        at = replayed.at or NOW
        if episode.statuses(at).keys() != set(protocol.skills):
            raise LookupError("a skill has no status")
        for ask in (episode.next_steps, episode.check_first):
            ask(at)
        for tell in (episode.knees, episode.deadlines):
            tell()
        for obj in history[-2:]:
            episode.advise(obj if isinstance(obj, dict) else {"skill": obj}, at=at, role="therapist")

    def _replay_lines(self, body: bytes) -> None:
        for report in replay_lines(self._small, io.BytesIO(body), report_line=lambda number, why: None):
            as_line(report)

    @staticmethod
    def _parse_body(body: bytes) -> None:
        FastJsonParser().parse(io.BytesIO(body))

    def _check_shape(self, made: tuple[str, Any]) -> None:
        name, data = made
        _shape(name)(data=data).is_valid()

    def _check_form(self, made: tuple[str, Any]) -> None:
        name, data = made
        sent = QueryDict(mutable=True)
        for field, values in as_query(data).items():
            sent.setlist(field, values)
        form = _form(name)(sent)
        form.is_valid()
        str(form.as_p())


def _dumped(value: Any, rng: Random) -> bytes:
    text = json.dumps(value, ensure_ascii=rng.random() < 0.5, separators=(",", ":"))
    return text.encode("utf-8", "surrogatepass")


def _bytes(value: Any, rng: Random) -> bytes:
    body = _dumped(value, rng)
    return spoiled(body, rng) if rng.random() < 0.6 else body


# --- every form and every shape of the programme that needs nothing but what was sent ---------------------------------
_classes: dict[str, Any] = {}


def _known(base: type) -> list[type]:
    """Every class of ours below a base, once every address has been loaded."""
    get_resolver().url_patterns  # noqa: B018 - loads every view
    found: dict[str, type] = {}
    waiting: list[type] = list(base.__subclasses__())
    while waiting:
        one = waiting.pop()
        waiting += one.__subclasses__()
        if one.__module__.startswith(OURS):
            found[f"{one.__module__}.{one.__qualname__}"] = one
    return [found[name] for name in sorted(found)]


def _stand_alone(kinds: list[type], fields: Callable[[Any], Any], empty: Any) -> dict[str, list[str]]:
    """Name → fields of the classes that can be made of what was sent alone, and check it without a database."""
    ready: dict[str, list[str]] = {}
    for kind in kinds:
        try:
            made: Any = kind(empty) if issubclass(kind, forms.Form) else kind(data=empty)  # type: ignore[call-arg]  # form and serializer take their data differently
            made.is_valid()
            str(made)
        except (TypeError, AssertionError, NotImplementedError, ImproperlyConfigured, RuntimeError):
            continue  # it needs more than what was sent, or the database: the requests over HTTP reach it
        name = f"{kind.__module__}.{kind.__qualname__}"
        _classes[name] = kind
        ready[name] = list(fields(made))
    return ready


def _forms() -> dict[str, list[str]]:
    return _stand_alone(_known(forms.Form), lambda form: form.fields, QueryDict())


def _shapes() -> dict[str, list[str]]:
    return _stand_alone(_known(Serializer), lambda shape: shape.fields, {})


def _form(name: str) -> type[forms.Form]:
    found: type[forms.Form] = _classes[name]
    return found


def _shape(name: str) -> type[Serializer[Any]]:
    found: type[Serializer[Any]] = _classes[name]
    return found
