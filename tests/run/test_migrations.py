"""A new database gets its tables all at once, one that has some goes on step by step, and both come out the same."""

from __future__ import annotations

import pytest
from django.db import connection
from django.db.migrations.autodetector import MigrationAutodetector
from django.db.migrations.executor import MigrationExecutor
from django.db.migrations.loader import MigrationLoader
from django.db.migrations.state import ProjectState

LAST = "clinic0013_staff_language"


def the_state(*, at_once: bool) -> ProjectState:
    loader = MigrationLoader(None, load=False, replace_migrations=at_once)
    loader.build_graph()
    return loader.project_state()


def columns(state: ProjectState) -> dict[tuple[str, str], list[str]]:
    """Of each table, in their order."""
    return {key: list(model.fields) for key, model in state.models.items()}


@pytest.fixture(scope="module")
def both() -> tuple[ProjectState, ProjectState]:
    return the_state(at_once=False), the_state(at_once=True)


def test_all_at_once_makes_the_same_tables_as_step_by_step(both: tuple[ProjectState, ProjectState]) -> None:
    step_by_step, at_once = both
    graph = MigrationLoader(None).graph
    assert MigrationAutodetector(step_by_step, at_once).changes(graph) == {}
    assert columns(step_by_step) == columns(at_once)


@pytest.mark.django_db
def test_a_database_that_went_step_by_step_has_nothing_left_to_do() -> None:
    with connection.cursor() as cursor:
        cursor.execute("DELETE FROM django_migrations WHERE name LIKE %s", ["%squashed%"])
        assert cursor.rowcount == 3
    executor = MigrationExecutor(connection)
    assert executor.migration_plan(executor.loader.graph.leaf_nodes()) == []


@pytest.mark.django_db
def test_a_database_that_stopped_on_the_way_goes_on_from_there() -> None:
    with connection.cursor() as cursor:
        cursor.execute("DELETE FROM django_migrations WHERE name LIKE %s OR app || name = %s", ["%squashed%", LAST])
    executor = MigrationExecutor(connection)
    plan = executor.migration_plan(executor.loader.graph.leaf_nodes())
    assert [f"{migration.app_label}{migration.name}" for migration, _ in plan] == [LAST]
