"""What every test may count on: a migrated database, used as the programme uses it (as `clinic_app`, not as owner)."""

import os
from collections.abc import Iterator
from pathlib import Path

import psycopg
import pytest
from django.conf import settings
from django.core.cache import cache
from django.db import connection
from django.test import TransactionTestCase
from hypothesis import settings as hypothesis
from psycopg.conninfo import conninfo_to_dict

from clinic.access import standing
from clinic.watch import selectors as watch
from tests.core_js.counting import pytest_terminal_summary
from tests.emptying import Emptied

__all__ = ["pytest_terminal_summary"]  # what the comparisons of the core in JavaScript counted

# The examples of a run are the same each time, so that what went in yesterday passes today; what draws new ones is
# `manage.py test tests/domain --hypothesis-profile anew`.
hypothesis.register_profile("anew", derandomize=False, print_blob=True)
hypothesis.register_profile("same", derandomize=True, print_blob=True)
hypothesis.load_profile("same")


HISTORIES = 100  # random ones, compared in every run


def pytest_addoption(parser: pytest.Parser) -> None:
    """For the attack: `manage.py test tests/attack --tries 1000 --attack-seed 7`; for the core in JavaScript:
    `manage.py test tests/core_js --histories 20000`; for every page: `manage.py test tests/browser --themes all`."""
    parser.addoption("--themes", choices=["some", "all"], default="some", help="of each page (tests/browser)")
    parser.addoption("--retake", action="store_true", help="take the pictures of the main pages anew (tests/looks)")
    parser.addoption("--tries", type=int, default=0, help="tamperings in all, as many of each kind (tests/attack)")
    parser.addoption("--attack-seed", type=int, default=20261125, help="of what is chosen by chance (tests/attack)")
    parser.addoption(
        "--histories", type=int, default=HISTORIES, help="random histories to compare, in all (tests/core_js)"
    )


def pytest_configure() -> None:
    """Passwords are hashed quickly here; tests/run/test_settings.py looks at the real setting."""
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
    settings.WHITENOISE_AUTOREFRESH = True  # no client of a test lists every file first
    # a test asks more in a second than anybody in a minute; tests/hardening/test_limits.py takes the real numbers
    settings.WATCH_LIMITS = {}  # no worker beats here; tests/watch takes the real numbers
    settings.LIMITS = {kind: (1_000_000, seconds) for kind, (_, seconds) in settings.LIMITS.items()}


# What the daily subset leaves to the whole run: rooms whose tests are many and whose code is rarely touched in passing.
NOT_DAILY = (
    *("attack/", "proof/", "fences/", "hardening/", "ledger/", "matrix/", "fuzz/", "oracles/", "pictures/"),
    *("services/test_accounted", "services/test_rows_stay", "services/test_emergency", "services/test_signatures"),
    *("services/test_archive", "services/test_erasure", "services/test_record_replay", "services/test_keeping"),
    *("services/test_pins", "services/test_corrections", "services/test_reauthenticate", "services/test_leaving"),
    *("web/test_keeping_pages", "web/test_caseload_plan", "web/test_bench", "web/test_your_sign_in", "web/test_kept"),
    *("web/test_policy", "web/test_staff_pages", "web/test_caseload_lead", "api/test_one_answer"),
)


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """What drives real processes or a real browser may be tried a second time, and the summary says that it was: a busy
    machine can starve them. Every other test has one try. Modules with long tests come first, so that no worker is left
    with one of them when the others have nothing more to do. Whoever asks for more histories than a run compares has
    the time for them."""
    more = config.getoption("histories") > HISTORIES
    long: set[Path] = set()
    for item in items:
        if item.path.relative_to(Path(__file__).parent).as_posix().startswith(NOT_DAILY):
            item.add_marker(pytest.mark.slow)
        if item.get_closest_marker("browser") or item.get_closest_marker("chaos"):
            item.add_marker(pytest.mark.flaky(reruns=1, reruns_delay=2))
        if more:
            item.add_marker(pytest.mark.timeout(0))
        if any(item.get_closest_marker(name) for name in ("browser", "chaos", "slow")):
            long.add(item.path)
    items.sort(key=lambda item: item.path not in long)


def _sign_in_as(url: str) -> None:
    """Let the default connection, in every thread, come as the role of this address from now on."""
    connection.close()
    parts = conninfo_to_dict(url)
    connection.settings_dict |= {"USER": parts["user"], "PASSWORD": parts["password"]}


@pytest.fixture(scope="session")
def django_db_modify_db_settings(django_db_modify_db_settings: None) -> None:
    """The test database is made and migrated by the role that owns it …"""
    _sign_in_as(os.environ["TEST_OWNER_URL"])


@pytest.fixture(scope="session")
def django_db_setup(django_db_setup: None) -> Iterator[None]:
    """… and used by the role that the programme has."""
    emptied = Emptied(os.environ["TEST_SUPERUSER_URL"], str(connection.settings_dict["NAME"]))
    _sign_in_as(os.environ["DATABASE_URL"])
    patch = pytest.MonkeyPatch()
    patch.setattr(TransactionTestCase, "_fixture_teardown", lambda self: emptied.again())
    standing.process_stands_as(standing.EVERYBODY)  # who makes a world sees it; requests come in as who they are
    yield
    standing.process_stands_as(standing.NOBODY)
    patch.undo()
    _sign_in_as(os.environ["TEST_OWNER_URL"])


@pytest.fixture
def owner(db: None) -> Iterator[psycopg.Connection]:
    """A connection of the owner's to the test database, for tests that look behind the programme's back."""
    with psycopg.connect(os.environ["TEST_OWNER_URL"], dbname=str(connection.settings_dict["NAME"])) as other:
        yield other


@pytest.fixture(autouse=True)
def _fresh_cache(request: pytest.FixtureRequest) -> None:
    """Counters of failed sign-ins and the like do not leak from one test into the next."""
    if {"db", "transactional_db", "live_server"} & set(request.fixturenames) or request.node.get_closest_marker(
        "django_db"
    ):
        cache.clear()
        watch.forget()
