"""Brings a test database back to what the migrations left, after a test that committed."""

import psycopg
from psycopg import sql

TABLES = "SELECT tablename FROM pg_tables WHERE schemaname = 'public' AND tablename <> 'django_migrations' ORDER BY 1"


class Emptied:
    """Remembers the rows that migrations made; `again` empties every table and puts those rows back.

    Done by the superuser with triggers off, since the programme's role may not truncate and append-only tables refuse
    it. Only what has rows is emptied: truncating all tables takes longer than most tests.
    """

    def __init__(self, url: str, database: str) -> None:
        self._url, self._database = url, database
        with self._behind_the_programme() as connection:
            self._tables = [str(row[0]) for row in connection.execute(TABLES)]
            self._rows = {table: rows for table in self._tables if (rows := _copied(connection, table))}

    def again(self) -> None:
        """Empty all tables; what the migrations had put in stands there again."""
        names = sql.SQL(", ").join(map(sql.Identifier, self._tables))
        with self._behind_the_programme() as connection:
            # waits for whoever is still writing, such as a request whose browser has gone
            connection.execute(sql.SQL("LOCK TABLE {} IN EXCLUSIVE MODE").format(names))
            for table in self._filled(connection):
                connection.execute(sql.SQL("DELETE FROM {}").format(sql.Identifier(table)))
            for table, rows in self._rows.items():
                statement = sql.SQL("COPY {} FROM STDIN").format(sql.Identifier(table))
                with connection.cursor().copy(statement) as copy:
                    copy.write(rows)

    def _behind_the_programme(self) -> psycopg.Connection:
        """A connection for one use: some tests cut all of them."""
        connection = psycopg.connect(self._url, dbname=self._database)
        connection.execute("SET session_replication_role = replica")
        return connection

    def _filled(self, connection: psycopg.Connection) -> list[str]:
        """The tables that have rows."""
        question = sql.SQL("SELECT {} WHERE EXISTS (SELECT FROM {})")
        questions = [question.format(sql.Literal(table), sql.Identifier(table)) for table in self._tables]
        return [str(row[0]) for row in connection.execute(sql.SQL(" UNION ALL ").join(questions))]


def _copied(connection: psycopg.Connection, table: str) -> bytes:
    statement = sql.SQL("COPY {} TO STDOUT").format(sql.Identifier(table))
    with connection.cursor().copy(statement) as copy:
        return b"".join(bytes(block) for block in copy)
