"""A connection that knows as whom it asks, and tells the database before anything is asked as somebody else.

The identity is a set of variables of the database's session (clinic/access/functions.py). It is changed here and
nowhere else. A connection that has just been made, or that has given its sign of life at the beginning of a request,
stands as nobody; one whose transaction was rolled back may have forgotten, and is told again. Whatever goes wrong, it
stands as nobody or fails: never as whoever came before. No pooler that shares sessions between transactions may stand
in between.
"""

from __future__ import annotations

from typing import Any

from django.db.backends.postgresql import base
from psycopg import Cursor
from psycopg.pq import TransactionStatus

from clinic.access import standing
from clinic.access.functions import TOLD, VARIABLES
from clinic.access.standing import NOBODY, Standing

_BLANK = "SELECT " + ", ".join(f"set_config('{name}', %s, false)" for name in VARIABLES)
_TOLD = f"SELECT {TOLD}(%s::uuid, %s)"


class DatabaseWrapper(base.DatabaseWrapper):
    """Django's own, with an identity. `roles`: what the database says that this identity holds on its day."""

    _stands: Standing | None = NOBODY  # nothing: not sure
    _may_be_undone = False
    _at_edge = False
    roles: str | None = None

    def connect(self) -> None:
        """A new session of the database: nobody's."""
        self._stands, self._may_be_undone = NOBODY, False
        super().connect()

    def set_autocommit(self, *args: Any, **kwargs: Any) -> None:
        """At the edge of a transaction, where a statement of our own would begin another."""
        self._at_edge = True
        try:
            super().set_autocommit(*args, **kwargs)
        finally:
            self._at_edge = False

    def ensure_connection(self) -> None:
        """Before every cursor and every transaction."""
        super().ensure_connection()
        wanted = standing.present()
        if self._stands is not wanted and self._stands != wanted and not self._at_edge:
            self._stand(wanted)

    def is_usable(self) -> bool:
        """The sign of life that is asked for once a request; it forgets, in the same breath, whoever came before."""
        try:
            self._say(NOBODY)
        except self.Database.Error:
            return False
        return True

    def _stand(self, wanted: Standing) -> None:
        status = self.connection.info.transaction_status
        if status == TransactionStatus.INERROR:
            return  # nothing is answered before the rollback, after which it is told anew
        # without autocommit what is said now begins the transaction: idle still, and undone with it all the same
        self._may_be_undone |= status != TransactionStatus.IDLE or not self.connection.autocommit
        with self.wrap_database_errors:
            self._say(wanted)

    def _say(self, wanted: Standing) -> None:
        self._stands, self.roles = None, None
        with Cursor(self.connection) as cursor:
            if wanted.at is None:
                cursor.execute(_BLANK, [wanted.who, "", f" {wanted.who} ", "", *["{}"] * 4, ""], prepare=True)
            else:
                row = cursor.execute(_TOLD, [wanted.who, wanted.at], prepare=True).fetchone()
                self.roles = row[0] if row else ""
        self._stands = wanted

    def _unsure(self) -> None:
        if self._may_be_undone:
            self._stands, self.roles = None, None

    def _commit(self) -> Any:
        try:
            done = super()._commit()  # type: ignore[misc]  # the stubs leave these three out
        except BaseException:
            self._unsure()
            raise
        self._may_be_undone = False
        return done

    def _rollback(self) -> Any:
        self._unsure()
        self._may_be_undone = False
        return super()._rollback()  # type: ignore[misc]  # private in the stubs

    def _savepoint_rollback(self, sid: str) -> None:
        super()._savepoint_rollback(sid)  # type: ignore[misc]  # private in the stubs
        self._unsure()
