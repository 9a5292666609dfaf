"""Locking an episode for writing, and everything that the permit needs, in one statement.

The fence of `clinic.access` as rows of the sender's: their roles by date, and when they carried or covered this
episode. From these a reach is worked out for any instant without asking again (a test holds the answer equal to
`access.scoped`).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from contextlib import ExitStack
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any
from uuid import UUID

from django.db import connection
from psycopg import Cursor

from clinic import access
from clinic.access import Action, Scope
from clinic.access.functions import TAKE_IN_HAND, TAKEN
from clinic.errors import NotFound
from clinic.staff.models import Staff
from clinic.staff.roles import STAMP_ORDER, Role

UNSEEN = "There is nothing here that you may see. Check the link, or ask a clinic lead."

# The numbers of the rows to come are part of their leaves, and so are taken here: one for the trail, and one for each
# entry that is not known. They depend on `h` so that whoever had to wait for the lock takes them after the wait.
# Guessing about arrays, the planner would plan these look-ups by key anew each time: that costs more than they do.
_PLANNED_ONCE = "SET LOCAL plan_cache_mode = force_generic_plan"
_LOCK = """
SELECT e.reference, e.site_id = %(site)s, s.time_zone, h.protocol_id, h.snapshot, h.last_at,
    ARRAY(SELECT ARRAY[role, lower(period)::text, upper(period)::text] FROM clinic_roleterm WHERE staff_id = %(staff)s),
    ARRAY(SELECT period FROM caseload_assignment WHERE episode_id = e.id AND staff_id = %(staff)s
        UNION ALL SELECT period FROM caseload_cover WHERE episode_id = e.id AND staff_id = %(staff)s),
    ARRAY(SELECT ARRAY[en.id::text, en.episode_id::text, c.body] FROM checklists_entry en
        JOIN checklists_entrycontent c ON c.entry_id = en.id WHERE en.id = ANY(%(ids)s::uuid[])),
    ARRAY(SELECT CASE n WHEN 0 THEN nextval('clinic_trailrow_number_seq')
            ELSE nextval('checklists_entry_number_seq') END
        FROM (SELECT %(many)s - count(*) AS many FROM checklists_entry WHERE id = ANY(%(own)s::uuid[])) new,
            generate_series(0, new.many) n WHERE new.many > 0 AND h.episode_id IS NOT NULL)
FROM checklists_head h JOIN caseload_episode e ON e.id = h.episode_id
    JOIN clinic_site s ON s.id = e.site_id
WHERE h.episode_id = %(episode)s FOR NO KEY UPDATE OF h
"""


@dataclass(frozen=True, slots=True)
class Terms:
    """Roles with the days on which they are held (end excluded; an open end is nothing)."""

    rows: tuple[tuple[Role, date | None, date | None], ...]

    @classmethod
    def of(cls, rows: Iterable[tuple[str, date | None, date | None]]) -> Terms:
        """From rows of the register."""
        return cls(tuple((Role(role), start, end) for role, start, end in rows))

    def on(self, day: date) -> frozenset[Role]:
        """The roles held on a day."""
        return frozenset(
            role for role, start, end in self.rows if (start is None or start <= day) and (end is None or day < end)
        )

    def stamp(self, day: date) -> str | None:
        """The role under which a fact of that day is recorded; nothing where they had none in the gym."""
        held = self.on(day)
        return next((str(role) for role in STAMP_ORDER if role in held), None)


@dataclass(frozen=True, slots=True)
class Locked:
    """An episode under its lock, as one sender stands to it.

    `known`: the asked ids that are taken → (episode, body). `numbers`: for the new entries, at least as many as there
    can be; `trail_number`: for the row of the trail, where there can be any.
    """

    episode_id: UUID
    reference: str
    time_zone: str
    protocol_id: int
    snapshot: bytes
    last_at: datetime | None
    known: dict[str, tuple[str, str]]
    terms: Terms
    same_site: bool
    carried: tuple[Any, ...]
    numbers: list[int]
    trail_number: int

    def carried_before(self, at: datetime) -> bool:
        """Whether the sender has carried or covered this person at some time up to then."""
        return any(not period.isempty and (period.lower is None or period.lower <= at) for period in self.carried)

    def may(self, action: Action, at: datetime) -> bool | None:
        """Whether the sender's reach at an instant takes in this episode; nothing where no role of theirs has the
        action."""
        scope = access.reach_of(self.terms.on(at.date()), action)
        if scope is None:
            return None
        if scope is Scope.OWN:
            return any(at in period for period in self.carried)
        return scope is Scope.ALL or self.same_site


def lock(
    actor: Staff,
    episode_id: UUID,
    ids: list[str],
    own: Sequence[str] = (),
    many: int = 0,
    *,
    elsewhere: Iterable[str] = (),
) -> Locked:
    """Lock an episode's head until the transaction ends. No such episode: NotFound. Permits are asked of what comes
    back.

    `many`: how many entries may be written; `own`: their ids, `ids`: those and whatever else is asked about;
    `elsewhere`: which of them are known to be taken, wherever.
    """
    parameters = {
        "episode": episode_id,
        "staff": actor.pk,
        "site": actor.site_id,
        "ids": ids,
        "own": list(own),
        "many": many,
    }
    row = fetched(_LOCK, parameters)
    if row is None and _taken_in_hand(episode_id):
        row = fetched(_LOCK, parameters)
    if row is None or not actor.is_active:
        raise NotFound(UNSEEN)
    reference, same_site, time_zone, protocol_id, snapshot, last_at, roles, carried, known, numbers = row
    return Locked(
        episode_id=episode_id,
        reference=reference,
        time_zone=time_zone,
        protocol_id=protocol_id,
        snapshot=snapshot,
        last_at=last_at,
        known={**dict.fromkeys(elsewhere, ("", "")), **{entry: (episode, body) for entry, episode, body in known}},
        terms=Terms.of((role, _day(start), _day(end)) for role, start, end in roles),
        same_site=same_site,
        carried=tuple(carried),
        numbers=numbers[1:],
        trail_number=numbers[0] if numbers else 0,
    )


def _taken_in_hand(episode_id: UUID) -> bool:
    """Whether the sender, who does not see this episode now, could ever have recorded in it: what they saw then may be
    written down late. The database finds out for itself, and opens this one episode until the transaction ends."""
    answer = fetched(f"SELECT {TAKE_IN_HAND}(%(episode)s)", {"episode": episode_id})
    return answer is not None and bool(answer[0])


def taken(ids: Sequence[str]) -> frozenset[str]:
    """Which of these ids stand in the record, be it in an episode that the sender does not see."""
    answer = fetched(f"SELECT ARRAY(SELECT {TAKEN}(%(ids)s::uuid[])::text)", {"ids": list(ids)})
    return frozenset(answer[0]) if answer else frozenset()


def _day(text: str | None) -> date | None:
    return date.fromisoformat(text) if text else None


def fetched(statement: str, parameters: dict[str, Any]) -> tuple[Any, ...] | None:
    """The first row of a statement, which travels together with the BEGIN before it. Must stand in a transaction."""
    connection.ensure_connection()
    with connection.wrap_database_errors, Cursor(connection.connection) as cursor:
        with connection.connection.pipeline():
            cursor.execute(_PLANNED_ONCE)
            cursor.execute(statement, parameters, prepare=True, binary=True)
        row: tuple[Any, ...] | None = cursor.fetchone()
        return row


def sent(statement: str, parameters: dict[str, Any], closing: ExitStack | None) -> None:
    """Send a statement whose result nobody needs; with `closing`, without waiting before the commit that follows.

    psycopg itself, and not one of Django's cursors: those bind values on this side, so that the statement is planned
    anew each time; this one is prepared once.
    """
    with connection.wrap_database_errors:
        if closing is not None:
            closing.enter_context(connection.connection.pipeline())
        Cursor(connection.connection).execute(statement, parameters, prepare=True)
