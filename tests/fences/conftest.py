"""The clinic of these tests, and the two fences taken down one at a time."""

from __future__ import annotations

import os
from collections.abc import Iterator

import psycopg
import pytest
from django.db import connection

from clinic import access
from clinic.access import Action, Scope, fence, gate
from tests.fences.world import World, a_world


@pytest.fixture
def world(db: None) -> World:
    """A clinic in which somebody stands in every relation to somebody."""
    return a_world()


@pytest.fixture
def no_filter_in_code(monkeypatch: pytest.MonkeyPatch) -> None:
    """As if nobody had ever asked how far anything reaches: every question of the code's fence is answered 'all'."""

    def everything(roles: object, action: Action) -> Scope:
        return Scope.ALL

    for place in (gate, access):
        monkeypatch.setattr(place, "reach_of", everything)


@pytest.fixture(scope="module")
def no_fence_in_the_database(django_db_setup: None) -> Iterator[None]:
    """Row-level security off, on every table; on again afterwards."""
    with psycopg.connect(os.environ["TEST_OWNER_URL"], dbname=str(connection.settings_dict["NAME"])) as owner:
        for table in fence.fences():
            owner.execute(f"ALTER TABLE {table} DISABLE ROW LEVEL SECURITY")
        owner.commit()
        yield
        for table in fence.fences():
            owner.execute(f"ALTER TABLE {table} ENABLE ROW LEVEL SECURITY")
