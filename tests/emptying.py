"""Brings a test database back to what the migrations left, after a test that committed."""

import psycopg
from psycopg import sql

TABLES = "SELECT tablename FROM pg_tables WHERE schemaname = 'public' AND tablename <> 'django_migrations' ORDER BY 1"


class Emptied:
    """Remembers the rows that migrations made; `again` empties every table and puts those rows back.

    Done by the superuser with triggers off, since the programme's role may not truncate and append-only tables refuse
    it.
    """

    def __init__(self, url: str, database: str) -> None:
        self._connection = psycopg.connect(url, dbname=database, autocommit=True)
        self._tables = [str(row[0]) for row in self._connection.execute(TABLES)]
        self._rows = {table: rows for table in self._tables if (rows := self._copied(table))}
        self._connection.close()
        self._where = (url, database)

    def again(self) -> None:
        """Empty all tables; what the migrations had put in stands there again."""
        names = sql.SQL(", ").join(map(sql.Identifier, self._tables))
        url, database = self._where
        with psycopg.connect(url, dbname=database) as connection:
            connection.execute("SET session_replication_role = replica")
            connection.execute(sql.SQL("TRUNCATE {} CASCADE").format(names))
            for table, rows in self._rows.items():
                with connection.cursor().copy(sql.SQL("COPY {} FROM STDIN").format(sql.Identifier(table))) as copy:
                    copy.write(rows)

    def _copied(self, table: str) -> bytes:
        statement = sql.SQL("COPY {} TO STDOUT").format(sql.Identifier(table))
        with self._connection.cursor().copy(statement) as copy:
            return b"".join(bytes(block) for block in copy)
