"""The demo's codes: what a visitor used while the year was being lived through stands in nobody's way."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest

from checklists.demo.cast import PASSWORD
from checklists.demo.telephones import NAMES, Telephones, code_of, hand_out, lay_aside
from clinic import clock
from clinic.staff.factors.check import WrongCode, check_code
from clinic.staff.factors.models import Factor
from clinic.staff.models import Staff
from tests.makers import a_therapist, now

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _any_day(settings: Any) -> None:
    settings.CLOCK_CAN_BE_SET = True


def of_the_demo() -> Staff:
    """A therapist with the demo's password and no telephone yet."""
    runa = a_therapist(factor=False)
    runa.set_password(PASSWORD)
    runa.save(update_fields=["password"])
    return runa


def test_a_visitors_code_does_not_use_up_the_simulators() -> None:
    runa, today = of_the_demo(), now()
    with clock.at_instant(today - timedelta(days=300)):
        hand_out(runa)
    assert check_code(runa, code_of(runa, 0), at=clock.now()) is False  # no recovery code: one of the telephone
    for half in (0, 1):
        with clock.at_instant(today - timedelta(days=200)):
            check_code(runa, Telephones(half).code_of(runa), at=clock.now())
    with clock.at_instant(today - timedelta(days=100)), pytest.raises(WrongCode):
        check_code(runa, code_of(runa, 0), at=clock.now())


def test_a_demo_of_an_older_version_gets_the_telephone_that_it_lacks() -> None:
    runa = of_the_demo()
    with clock.at_instant(now() - timedelta(days=300)):
        hand_out(runa)
    Factor.objects.filter(staff=runa, name=NAMES[-1]).update(name="gone")
    lay_aside()
    assert Factor.objects.filter(staff=runa, name=NAMES[-1]).count() == 1
    assert not Factor.objects.filter(staff=runa, name__in=NAMES, last_step__isnull=False).exists()
