"""The demo clinic, lived through once for all tests of a module."""

from __future__ import annotations

import os
import uuid
from collections.abc import Callable, Iterator
from datetime import UTC, datetime

import pytest
from django.conf import settings
from django.db import connection
from pytest_django.plugin import DjangoDbBlocker

from caseload.models import Episode
from checklists.demo.cast import SORREL
from checklists.demo.clinic import bring_up_to_date
from checklists.demo.session import START_STEPS
from checklists.demo.situations import SITUATIONS
from checklists.demo.telephones import code_of
from checklists.record.services import record_entries
from clinic import clock
from clinic.staff.factors.check import check_code
from clinic.staff.models import Staff
from tests.emptying import Emptied

FIRST_START = datetime(2026, 11, 25, 9, 30, tzinfo=UTC)


def a_visitor() -> Callable[[str, int], None]:
    """Somebody who does not wait until the year is over: two weeks before they sign in as a therapist, and record."""
    days: list[str] = []

    def looks_in(day: str, total: int) -> None:
        days.append(day)
        if len(days) == total - 14:
            sorrel = Staff.objects.get(username=SORREL.username)
            check_code(sorrel, code_of(sorrel, 0), at=clock.now())
            check = {"kind": "check", "name": "start_of_session", "steps": dict.fromkeys(START_STEPS, True)}
            fact = {"id": str(uuid.uuid4()), "at": clock.now().isoformat(), **check}
            taken = record_entries(actor=sorrel, episode_id=visited(sorrel).pk, entries=[fact])
            assert [one.outcome for one in taken.verdicts] == ["accepted"]

    return looks_in


def visited(therapist: Staff) -> Episode:
    """The first person of a therapist's who stands for nothing in the tour and whose next session is planned."""
    told = {one.person.split()[1] for one in SITUATIONS.values()}
    mine = Episode.objects.filter(assignments__staff=therapist, closed_at=None, visits__state="planned")
    return mine.exclude(person__family_name__in=told).order_by("reference")[0]


@pytest.fixture(scope="module")
def demo_clinic(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[datetime]:
    """A year at the invented clinic; the instant of its first start. Emptied again when the module is done."""
    patch = pytest.MonkeyPatch()
    patch.setattr(settings, "CLOCK_CAN_BE_SET", True, raising=False)
    with django_db_blocker.unblock():
        emptied = Emptied(os.environ["TEST_SUPERUSER_URL"], str(connection.settings_dict["NAME"]))
        try:
            with clock.at_instant(FIRST_START):
                bring_up_to_date(step=a_visitor())
            yield FIRST_START
        finally:
            emptied.again()
            patch.undo()
