"""The demo clinic, lived through once for all tests of a module."""

from __future__ import annotations

import os
from collections.abc import Iterator
from datetime import UTC, datetime

import pytest
from django.conf import settings
from django.db import connection
from pytest_django.plugin import DjangoDbBlocker

from checklists.demo.clinic import bring_up_to_date
from clinic import clock
from tests.emptying import Emptied

FIRST_START = datetime(2026, 11, 25, 9, 30, tzinfo=UTC)


@pytest.fixture(scope="module")
def demo_clinic(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[datetime]:
    """A year at the invented clinic; the instant of its first start. Emptied again when the module is done."""
    patch = pytest.MonkeyPatch()
    patch.setattr(settings, "CLOCK_CAN_BE_SET", True, raising=False)
    with django_db_blocker.unblock():
        emptied = Emptied(os.environ["TEST_SUPERUSER_URL"], str(connection.settings_dict["NAME"]))
        try:
            with clock.at_instant(FIRST_START):
                bring_up_to_date(step=lambda name, total: None)
            yield FIRST_START
        finally:
            emptied.again()
            patch.undo()
