"""How a table says whose its rows are, so that the database can hold them back: the second fence, table by table.

A model says it with `FENCE`: by which way a row belongs to somebody (`ByEpisode`, `Mine` …), and by which actions of
POLICY it is read and written. The ways know SQL and nothing of roles; clinic/access/fence.py brings the two together.
A condition stands in a policy and is asked of every row. What is costly is worked out once a statement, `(SELECT …)`;
but each of these is a plan of its own that every statement has to set up, so what is cheap, or seldom asked, is not.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Protocol

from clinic.access.functions import EPISODE_OF_ALERT, SITE_OF
from clinic.access.policy import IN_EMERGENCY, POLICY, Action
from clinic.access.scope import Scope

EVERYBODY = "everybody"
_ROLES = "current_setting('clinic.roles', true)"  # a blank before and after each
_SITE = "nullif(current_setting('clinic.site', true), '')::uuid"
_ACTOR = "nullif(nullif(current_setting('clinic.actor', true), ''), 'everybody')::uuid"
_HAND = "nullif(current_setting('clinic.writing', true), '')::uuid"


def listed(roles: Iterable[str]) -> str:
    """Roles as an array of the database."""
    return "'{" + ",".join(sorted(roles)) + "}'::text[]"


def holds(roles: Iterable[str]) -> str:
    """Whether whoever asks holds one of these roles."""
    return " OR ".join(f"strpos({_ROLES}, ' {role} ') > 0" for role in sorted(roles))


def among(column: str, variable: str, *, once: bool = True) -> str:
    """Whether a row's episode or person is one of those that the session's variable names."""
    ids = f"nullif(current_setting('{variable}', true), '')::uuid[]"
    return f"{column} = ANY ((SELECT {ids})::uuid[])" if once else f"{column} = ANY ({ids})"


def owners() -> frozenset[str]:
    """The roles that have anything of their own: for others the session's variables name nothing as theirs."""
    return frozenset(str(role) for one in READING for role, reach in POLICY[one].items() if reach is Scope.OWN)


@dataclass(frozen=True, slots=True)
class Holders:
    """Which roles have a set of actions, by how far it reaches with them; and which may read in an emergency."""

    by_scope: Mapping[Scope, frozenset[str]]
    emergency: frozenset[str] = frozenset()

    @classmethod
    def of(cls, actions: Iterable[Action], *, reading: bool) -> Holders:
        """From POLICY."""
        actions = frozenset(actions)
        held = {
            scope: frozenset(str(role) for one in actions for role, reach in POLICY[one].items() if reach is scope)
            for scope in Scope
        }
        urgent = frozenset(str(role) for one in actions & IN_EMERGENCY for role in POLICY[one]) if reading else ()
        return cls(held, frozenset(urgent) - held[Scope.ALL])

    def whole(self) -> str:
        """Whoever sees all rows."""
        roles = {EVERYBODY, *self.by_scope[Scope.ALL]}
        return f"(SELECT string_to_array({_ROLES}, ' ') && {listed(roles)})"

    def where(self, scope: Scope, condition: str) -> list[str]:
        """A condition for the roles whose reach is this; none where there are no such roles."""
        roles = self.by_scope[scope]
        return [f"(({holds(roles)}) AND {condition})"] if roles else []

    def own(self, column: str, variable: str) -> list[str]:
        """That a row is of somebody's own, for the roles that have own ones by these actions."""
        roles, theirs = self.by_scope[Scope.OWN], among(column, variable)
        if not roles & owners():
            return []
        return [theirs] if owners() <= roles else [f"({theirs} AND ({holds(roles & owners())}))"]

    def in_emergency(self, column: str, variable: str) -> list[str]:
        """That a row may be read in an emergency."""
        theirs = among(column, variable, once=False)
        return [f"({theirs} AND ({holds(self.emergency)}))"] if self.emergency else []


class Way(Protocol):
    """How rows of a table belong to somebody."""

    def conditions(self, holders: Holders, row: str) -> list[str]:
        """When one of the holders reaches a row (`row`: the table's name or alias), besides those who see all."""


@dataclass(frozen=True, slots=True)
class ByEpisode:
    """Through an episode. `hand`: also the one that the write path has in hand for somebody who is late."""

    column: str = "episode_id"
    hand: bool = False

    def conditions(self, holders: Holders, row: str) -> list[str]:
        """Site: the episode's. Own: assigned or covered as of the instant that was said."""
        column = f"{row}.{self.column}"
        site = f"{row}.site_id" if self.column == "id" else f"{SITE_OF}({column})"
        return [
            *holders.own(column, "clinic.own"),
            *holders.where(Scope.SITE, f"{site} = {_SITE}"),
            *holders.in_emergency(column, "clinic.emergency"),
            *([f"{column} = {_HAND}"] if self.hand else []),
        ]


@dataclass(frozen=True, slots=True)
class ByPerson:
    """A person: through their episodes, and for who waits through their site."""

    def conditions(self, holders: Holders, row: str) -> list[str]:
        """Somebody's own are the persons of the episodes that are theirs."""
        return [
            *holders.own(f"{row}.id", "clinic.people"),
            *holders.where(Scope.SITE, f"{row}.site_id = {_SITE}"),
            *holders.in_emergency(f"{row}.id", "clinic.emergency_people"),
        ]


@dataclass(frozen=True, slots=True)
class BySite:
    """A row of a site that nobody owns yet."""

    def conditions(self, holders: Holders, row: str) -> list[str]:
        """Who has the action at their site."""
        return holders.where(Scope.SITE, f"{row}.site_id = {_SITE}")


@dataclass(frozen=True, slots=True)
class Whole:
    """All or nothing: whoever's reach is the whole clinic."""

    def conditions(self, holders: Holders, row: str) -> list[str]:
        """Nobody else."""
        return []


@dataclass(frozen=True, slots=True)
class Theirs:
    """What somebody sent themselves is what they own."""

    column: str

    def conditions(self, holders: Holders, row: str) -> list[str]:
        """By the column that names them."""
        return holders.where(Scope.OWN, f"{row}.{self.column} = {_ACTOR}")


@dataclass(frozen=True, slots=True)
class Mine:
    """What is addressed to somebody, or done in their name, whatever their roles."""

    column: str

    def conditions(self, holders: Holders, row: str) -> list[str]:
        """By the column that names them."""
        return [f"{row}.{self.column} = {_ACTOR}"]


@dataclass(frozen=True, slots=True)
class Somebody:
    """Whoever is anybody: for rows that only mean something beside another row that is fenced itself."""

    def conditions(self, holders: Holders, row: str) -> list[str]:
        """That somebody asks."""
        return ["current_setting('clinic.actor', true) <> ''"]


@dataclass(frozen=True, slots=True)
class Anybody:
    """Even a stranger: what is only ever added, such as the account of a failed sign-in."""

    def conditions(self, holders: Holders, row: str) -> list[str]:
        """Always."""
        return ["true"]


@dataclass(frozen=True, slots=True)
class Via:
    """Through a row of another table: read where that row is seen, written where it may be written."""

    table: str
    column: str
    way: Way | None = None  # of the other table, for writing
    key: str = "id"

    def conditions(self, holders: Holders, row: str) -> list[str]:
        """The other table's own policies cut the look-up; it goes by its key, row by row."""
        wanted = "true" if self.way is None else " OR ".join(self.way.conditions(holders, "p")) or "false"
        return [f"(SELECT {wanted} FROM {self.table} p WHERE p.{self.key} = {row}.{self.column})"]  # noqa: S608 - names of ours


@dataclass(frozen=True, slots=True)
class ViaNewAlert:
    """A step of an alert of this very statement, which nobody sees yet, or of one that is in reach."""

    def conditions(self, holders: Holders, row: str) -> list[str]:
        """The alert's own insert is held against its episode."""
        inner = " OR ".join(ByEpisode("episode_id", hand=True).conditions(holders, "a"))
        alert = f"{EPISODE_OF_ALERT}({row}.alert_id) AS a(episode_id)"
        return [f"(SELECT a.episode_id IS NULL OR {inner} FROM {alert})"]  # noqa: S608 - names of ours


Door = tuple[Way, frozenset[Action]]


@dataclass(frozen=True, slots=True)
class Fenced:
    """The ways of a table. What has none is done by the programme itself alone."""

    reads: tuple[Door, ...] = ()
    inserts: tuple[Door, ...] = ()
    updates: tuple[Door, ...] = ()


def through(way: Way, *actions: Action) -> Door:
    """A way with the actions that go it."""
    return way, frozenset(actions)


def fenced(
    *reads: Door, writes: Iterable[Door] = (), inserts: Iterable[Door] = (), updates: Iterable[Door] = ()
) -> Fenced:
    """A fence. `writes`: new rows and changed ones alike."""
    writes = tuple(writes)
    return Fenced(tuple(reads), (*writes, *inserts), (*writes, *updates))


# Whoever reads the record. Who writes down that somebody says it is wrong must find what they mean.
READING = (Action.SEE_PERSON, Action.ASK_CORRECTION)
# Whoever writes into the record in whatever way; what the one write path keeps beside the facts is written by the same.
RECORDING = (
    *(Action.RECORD, Action.RECORD_KNEE, Action.RECORD_SETTING, Action.REVIEW_FALL, Action.STRIKE_ANY),
    *(Action.RELEASE_LATE, Action.IMPORT_RECORD, Action.SIGN_OFF, Action.COUNTERSIGN),
    *(Action.OPEN_EPISODE, Action.PAUSE_EPISODE, Action.CLOSE_EPISODE),
)
