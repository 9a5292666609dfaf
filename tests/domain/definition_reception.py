"""Reception by the server: what SEMANTICS.md section 1 refuses there and not in a replay (reference implementation)."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta
from typing import Any

from tests.domain.definition_entry import EntryRefused, parse
from tests.domain.definition_words import instant, is_integer


def receive(
    sent: dict[str, Any], document: dict[str, Any], now: datetime, *, both: bool = False, signing: bool = False
) -> dict[str, Any]:
    """`both`: the person has two prostheses. `signing`: it comes from the signing service or an import."""
    entry = parse(sent, document)
    for name, value in sent.items():
        for one in _inside(value):
            _plain(name, one)
    for name in ("at", "began"):
        found = instant(sent.get(name))
        if found is not None and found > now + timedelta(minutes=5):
            raise EntryRefused(f"{name}: more than five minutes in the future")
    _words_that_a_replay_keeps(sent, document)
    if sent["kind"] in ("sign_off", "sign_off_withdrawn") and not signing:
        raise EntryRefused("kind: does not come from the signing service or an import")
    if both and "knee" not in sent and _asks_which_knee(sent, document):
        raise EntryRefused("knee: whoever has two must be asked which")
    return entry


def _inside(value: Any) -> Iterator[Any]:
    yield value
    if isinstance(value, dict):
        for key, one in value.items():
            yield key
            yield from _inside(one)
    if isinstance(value, list):
        for one in value:
            yield from _inside(one)


def _plain(name: str, value: Any) -> None:
    if isinstance(value, str):
        if len(value) > 4000:
            raise EntryRefused(f"{name}: over 4,000 characters")
        if any(character == "\0" or "\ud800" <= character <= "\udfff" for character in value):
            raise EntryRefused(f"{name}: U+0000 or a lone surrogate")
    if is_integer(value) and value >= 2**53:
        raise EntryRefused(f"{name}: an integer of 2^53 or more")


def _words_that_a_replay_keeps(sent: dict[str, Any], document: dict[str, Any]) -> None:
    deviations = [one["key"] for one in document["deviations"]]
    measures = [one["key"] for one in document["measures"]]
    if any(one not in deviations for one in sent.get("deviations", [])):
        raise EntryRefused("deviations: unknown")
    if any(one not in measures for one in sent.get("measures", {})):
        raise EntryRefused("measures: unknown")
    if "skill" in sent and sent["skill"] not in document["skills_by_key"]:
        raise EntryRefused("skill: unknown")


def _asks_which_knee(sent: dict[str, Any], document: dict[str, Any]) -> bool:
    if sent["kind"] == "check":
        return bool(document["checks_by_key"][sent["name"]]["per_knee"])
    return sent["kind"] in ("mode_set", "mode_checked") or sent.get("setting") == "knee"
