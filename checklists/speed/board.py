"""`board_json`: the JSON of a board of forty people, against the one SQL statement that its rows come from."""

from __future__ import annotations

from datetime import datetime

from django.db import connection
from psycopg import Cursor

from checklists.board.selectors import board_json, board_statement
from checklists.speed.measure import Ratio, in_turns
from clinic.access.standing import standing_as
from clinic.staff.models import Staff


def measure(reader: Staff, at: datetime, *, pairs: int) -> Ratio:
    """The floor sends the statement and fetches its rows; the programme also asks who may see what, and writes JSON.

    Both ask the database as the reader, as a page does: its fence is part of what either costs.
    """
    statement, asked = board_statement(reader, at)

    def floor() -> None:
        with Cursor(connection.connection) as cursor:
            if len(cursor.execute(statement, asked, prepare=True).fetchall()) < 1:
                raise RuntimeError("the board is empty")

    def program() -> None:
        if len(board_json(reader, at=at)) < 1_000:
            raise RuntimeError("the board is empty")

    with standing_as(reader, at):
        return in_turns(floor, program, pairs=pairs)
