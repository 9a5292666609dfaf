"""`board_json`: the JSON of a board of forty people, against the one SQL statement that its rows come from.

`board_growth`: the same board when ten times as much is stored. The two are measured minutes apart, in which the
machine may have had more, or less, else to do; so each is a multiple of a piece of work that is the same whatever is
stored, done in turns with it.
"""

from __future__ import annotations

from datetime import datetime

from django.db import connection
from psycopg import Cursor

from checklists.board.selectors import board_json, board_statement
from checklists.speed.measure import Ratio, in_turns
from clinic.access.standing import standing_as
from clinic.staff.models import Staff

STEADY = "SELECT string_agg(md5(n::text), '') FROM generate_series(1, 20000) AS n"  # about as long as a board


def measure(reader: Staff, at: datetime, *, pairs: int) -> tuple[Ratio, Ratio]:
    """The board against its floor, and against STEADY.

    The floor sends the statement and fetches its rows; the programme also asks who may see what, and writes JSON. All
    ask the database as the reader, as a page does: its fence is part of what each costs.
    """
    statement, asked = board_statement(reader, at)

    def floor() -> None:
        with Cursor(connection.connection) as cursor:
            if len(cursor.execute(statement, asked, prepare=True).fetchall()) < 1:
                raise RuntimeError("the board is empty")

    def steady() -> None:
        with Cursor(connection.connection) as cursor:
            cursor.execute(STEADY, prepare=True).fetchall()

    def program() -> None:
        if len(board_json(reader, at=at)) < 1_000:
            raise RuntimeError("the board is empty")

    with standing_as(reader, at):
        return in_turns(floor, program, pairs=pairs), in_turns(steady, program, pairs=pairs)
