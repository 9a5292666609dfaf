"""One entry by itself: stamped, checked, recognised if it was here before, permitted, held or refused."""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

import orjson
import rfc8785

from checklists.domain import Entry, EntryRefused, Protocol, parse_entry, same_content
from checklists.domain.reading import make_entry
from checklists.record.lock import Locked, Terms
from checklists.record.reception import AT_ONCE, LATEST, Reception, action_of
from checklists.record.verdict import Verdict
from clinic.access import Action, assurance
from clinic.staff.models import Staff

SALT_BYTES = 16


@dataclass(frozen=True, slots=True)
class Author:
    """Who a fact is by, with the roles that they held."""

    staff: Staff
    terms: Terms


@dataclass(frozen=True, slots=True)
class Sound:
    """An entry that is taken unless other entries forbid it. `body` is the canonical form (RFC 8785) of what it
    says."""

    entry: Entry
    at: datetime
    author: Author
    body: bytes
    salt: bytes

    @property
    def commitment(self) -> bytes:
        """SHA-256 of salt and content: proves the content as long as it is kept, tells nothing about it afterwards."""
        return hashlib.sha256(self.salt + self.body).digest()


@dataclass(frozen=True, slots=True)
class Judged:
    """A verdict, with what must be written for it: a sound entry, or a held one in full."""

    verdict: Verdict
    sound: Sound | None = None
    held: dict[str, Any] | None = None


class Judge:
    """Judges the entries of one call one by one. `both`: the person has two prostheses, as far as is known before the
    call."""

    def __init__(
        self, reception: Reception, locked: Locked, protocol: Protocol, authors: Mapping[str, Author], *, both: bool
    ) -> None:
        self._reception = reception
        self._locked = locked
        self._protocol = protocol
        self._authors = authors
        self._both = both
        self.reached = False
        """Whether the sender's reach took in the episode when one of these happened."""
        self._taken: dict[str, tuple[str, Mapping[str, Any]]] = {}

    def judge(self, obj: object) -> Judged:
        """The verdict on one entry, and what follows from it."""
        id_ = _id(obj)
        try:
            entry, content, author = self._read(obj)
            at = _instant(entry)
            if self._repeated(entry.id, content):
                self.reached = True  # they know it word for word
                return Judged(Verdict(id_, "repeated"))
            waits = self._why_it_waits(content, at, author)
        except EntryRefused as fault:
            return Judged(Verdict(id_, "refused", str(fault)))
        if waits:
            return Judged(Verdict(id_, "held", waits), held=content)
        self._taken[entry.id] = (str(self._locked.episode_id), content)
        if entry.kind == "episode_opened":
            self._both = self._both or content["side"] == "both"
        return Judged(
            Verdict(id_, "accepted"),
            sound=Sound(entry, at, author, canonical(content), os.urandom(SALT_BYTES)),
        )

    def _read(self, obj: object) -> tuple[Entry, dict[str, Any], Author]:
        if not isinstance(obj, Mapping):
            raise EntryRefused("entry", "must be an object")
        content = {"episode": self._locked.reference, "by": self._reception.actor.reference, **obj}
        content.pop("role", None)
        if content["episode"] != self._locked.reference:
            raise EntryRefused("episode", "is another episode's; open that one and record it there")
        author = self._author(content)
        reception = self._reception
        entry = parse_entry(
            content,
            self._protocol,
            now=reception.at,
            both=self._both,
            signing=reception.by_service or reception.imported,
        )
        role = author.terms.stamp(_instant(entry).date())
        if role is None:
            return entry, content, author
        content["role"] = role
        return make_entry(content, self._protocol.compiled.shapes), content, author

    def _author(self, content: Mapping[str, Any]) -> Author:
        by = content["by"]
        if not self._reception.as_history and by != self._reception.actor.reference:
            raise EntryRefused("by", "somebody else recorded this; they must sign in to send it")
        found = self._authors.get(by) if isinstance(by, str) else None
        if found is None:
            raise EntryRefused("by", "nobody on the staff register has this reference")
        return found

    def _repeated(self, id_: str, content: Mapping[str, Any]) -> bool:
        """Whether this very entry is here already. The same id with anything else is refused."""
        episode, first = self._taken.get(id_) or self._locked.known.get(id_) or (None, None)
        if episode is None:
            return False
        if episode != str(self._locked.episode_id):
            raise EntryRefused("id", "stands in another episode already; give this entry an id of its own")
        if not same_content(orjson.loads(first) if isinstance(first, str) else first or {}, content):
            raise EntryRefused("id", "stands here already with other content; strike that out and record anew")
        return True

    def _may(self, actions: Sequence[Action], at: datetime) -> bool | None:
        """Whether one of these takes in the episode at an instant; nothing where no role of the sender's has one."""
        answers = {self._locked.may(action, at) for action in actions}
        return True if True in answers else False if False in answers else None

    def _struck(self, content: Mapping[str, Any]) -> Mapping[str, Any] | None:
        """The entry that a strike-out of this episode names, where it is here: what nobody of a role may record, nobody
        of that role undoes. (One that comes later has an id that nobody can know but its author.)"""
        if content["kind"] != "struck_out":
            return None
        episode, body = self._taken.get(content["entry"]) or self._locked.known.get(content["entry"]) or (None, None)
        if episode != str(self._locked.episode_id):
            return None
        found: Mapping[str, Any] | None = orjson.loads(body) if isinstance(body, str) else body
        return found

    def _why_it_waits(self, content: Mapping[str, Any], at: datetime, author: Author) -> str | None:
        """Why a lead must let it in first, or nothing. What no role of the author's includes is refused."""
        reception = self._reception
        if reception.as_history or reception.by_service:
            return None
        struck = self._struck(content)
        actions = [action_of(content)] if struck is None else [action_of(struck), Action.STRIKE_ANY]
        then, here = self._may(actions, min(at, reception.at)), self._may(actions, reception.at)
        if then is None and here is None:
            raise EntryRefused("kind", _not_theirs(actions[0]))
        if reception.at - at <= AT_ONCE:
            then = then or here  # it is not late: whoever has just been assigned records what they have just seen
        self.reached = self.reached or bool(then)
        if not then:
            return (
                "You were not assigned to this person, nor covering, when this happened: a clinic lead must release it."
            )
        if reception.at - at > LATEST:
            return "This happened more than seven days ago: a clinic lead must release it."
        return None


def _not_theirs(action: Action) -> str:
    words = action.replace("_", " ")
    if not assurance.allows(action):
        return f"a PIN is for recording only: sign in with your name and password for this ({words})"
    return f"your role does not include this ({words})"


def canonical(content: Mapping[str, Any]) -> bytes:
    """The RFC 8785 form. Of plain ASCII without fractions a fast encoder gives the same bytes (a test holds them
    equal)."""
    numbers = (*content.values(), *content.get("measures", {}).values())
    if not any(isinstance(one, float) for one in numbers):
        quick = orjson.dumps(content, option=orjson.OPT_SORT_KEYS)
        if quick.isascii():
            return quick
    return bytes(rfc8785.dumps(dict(content)))


def raw_text(obj: object, limit: int = 20_000) -> str:
    """What was sent, as a text that can be kept whatever was in it; cut where it is very long."""
    try:
        text = json.dumps(obj, ensure_ascii=True, default=repr)
    except (RecursionError, ValueError):
        text = '"nested too deeply to be kept"'
    return text if len(text) <= limit else text[:limit] + "…"


def is_grave(obj: object) -> bool:
    """A fall or an unsafe attempt, whatever else is wrong with it."""
    if not isinstance(obj, Mapping):
        return False
    return obj.get("kind") == "fall" or (obj.get("kind") == "attempt" and obj.get("result") == "unsafe")


def _instant(entry: Entry) -> datetime:
    try:
        return entry.instant
    except OverflowError:
        raise EntryRefused("at", "lies outside the years 1 to 9999, which is all that can be stored") from None


def _id(obj: object) -> str | None:
    found = obj.get("id") if isinstance(obj, Mapping) else None
    return found if isinstance(found, str) else None


def as_uuid(text: str | None) -> UUID | None:
    """The UUID in a text, where there is one."""
    try:
        return UUID(text or "")
    except ValueError:
        return None
