"""The database goes away under an open page and comes back: it is said, nothing is lost, all goes on by itself."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager

import psycopg
import pytest
from django.db import connection
from playwright.sync_api import Page, expect
from psycopg import sql

from clinic.models import Site
from tests.browser.looking import barriers
from tests.makers import a_lead

Enter = Callable[..., Page]
Gone = Callable[[], AbstractContextManager[None]]


@pytest.fixture
def gone() -> Gone:
    """Within the block the database takes no connection, and every one that there was is cut."""
    name = str(connection.settings_dict["NAME"])

    @contextmanager
    def without_database() -> Iterator[None]:
        with psycopg.connect(os.environ["TEST_SUPERUSER_URL"], dbname="postgres", autocommit=True) as superuser:
            allow = sql.SQL("ALTER DATABASE {} ALLOW_CONNECTIONS {}")
            superuser.execute(allow.format(sql.Identifier(name), sql.SQL("false")))
            superuser.execute("SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE datname = %s", [name])
            try:
                yield
            finally:
                superuser.execute(allow.format(sql.Identifier(name), sql.SQL("true")))
                connection.close()

    return without_database


def test_a_page_says_so_and_comes_back_by_itself(enter: Enter, gone: Gone) -> None:
    page = enter(a_lead(), "/staff/")
    with gone():
        page.reload()
        expect(page.get_by_role("heading", name="The record cannot be reached")).to_be_visible()
        assert barriers(page) == []
    expect(page.get_by_role("heading", name="Staff", exact=True)).to_be_visible(timeout=15_000)


def test_a_form_that_could_not_be_taken_is_sent_again_when_all_is_well(enter: Enter, gone: Gone) -> None:
    page = enter(a_lead(), "/staff/sites/add/")
    page.get_by_label("Name of the site").fill("Quay Street")
    with gone():
        page.get_by_role("button", name="Add").click()
        expect(page.get_by_role("heading", name="What you had typed")).to_be_visible()
        expect(page.get_by_label("Name")).to_have_value("Quay Street")
    assert not Site.objects.filter(name="Quay Street").exists()
    page.get_by_role("button", name="Send it").click()
    expect(page.get_by_role("heading", name="Staff", exact=True)).to_be_visible()
    assert Site.objects.filter(name="Quay Street").count() == 1
