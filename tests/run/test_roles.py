"""The programme comes to the database as a role that may do little."""

import pytest
from django.db import ProgrammingError, connection, transaction


@pytest.mark.django_db
def test_tests_run_as_the_programmes_role() -> None:
    with connection.cursor() as cursor:
        cursor.execute("SELECT current_user, rolsuper, rolcreatedb FROM pg_roles WHERE rolname = current_user")
        assert cursor.fetchone() == ("clinic_app", False, False)


@pytest.mark.django_db
@pytest.mark.parametrize(
    "statement",
    [
        "CREATE TABLE mine ()",
        "TRUNCATE django_session",
        "DROP TABLE django_session",
        "SET session_replication_role = replica",
    ],
)
def test_the_programmes_role_cannot_change_the_schema(statement: str) -> None:
    with pytest.raises(ProgrammingError), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(statement)


@pytest.mark.django_db(transaction=True)
def test_a_committed_row_is_gone_afterwards_first() -> None:
    _leave_a_session()


@pytest.mark.django_db(transaction=True)
def test_a_committed_row_is_gone_afterwards_second() -> None:
    _leave_a_session()


def _leave_a_session() -> None:
    with connection.cursor() as cursor:
        cursor.execute("SELECT count(*) FROM django_session")
        assert cursor.fetchone() == (0,)
        cursor.execute("INSERT INTO django_session VALUES ('k', 'd', now())")
