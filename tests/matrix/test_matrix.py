"""Every page and every operation × role × relation to the person: each door opens to whom POLICY says, and to nobody
else. A door that has no rule fails."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

import pytest
from django.test import Client

from clinic import clock
from clinic.staff.models import Staff
from clinic.staff.roles import Role
from tests.api.test_schema import specification
from tests.makers import a_staff, in_through_the_door
from tests.matrix.people import Relation, may, somebody
from tests.matrix.rules import OPERATIONS, PAGES, Kind, Rule, rule_of
from tests.matrix.walk import Answer, Walker, doors, taken_back
from tests.world import a_world

pytestmark = [pytest.mark.django_db, pytest.mark.slow, pytest.mark.timeout(400)]
WHOEVER = (Relation.SAME_SITE, Relation.NONE)  # at doors that are about no person
WITH_A_ROLE = [relation for relation in Relation if relation is not Relation.NONE]
# Whose reach is the whole clinic, or no person at all: a cover gives them nothing that is theirs to have.
NO_COVER = [relation for relation in WITH_A_ROLE if relation not in (Relation.COVER_NOW, Relation.COVER_OVER)]

TRAINERS = [Role.THERAPIST, Role.ASSISTANT, Role.PROSTHETIST]
LEADERS = [Role.CLINIC_LEAD, Role.RECORDS_OFFICER]


@pytest.fixture
def world(settings: Any) -> Iterator[dict[str, Any]]:
    """One of everything. No time goes by: what a try writes is taken back, and with it that somebody has just been
    seen, so each further door would write it again."""
    settings.CLOCK_CAN_BE_SET = True
    with clock.at_instant(clock.now()):
        yield a_world()


@pytest.fixture
def walker(world: dict[str, Any]) -> Walker:
    """Knows what to send, from what somebody is shown who holds every role."""
    browser = Client(raise_request_exception=False)
    in_through_the_door(browser, a_staff(*Role))
    return Walker(world, specification(), browser)


def browser_of(staff: Staff) -> Client:
    """Come in through the door."""
    browser = Client(raise_request_exception=False)
    assert in_through_the_door(browser, staff).status_code == 302
    return browser


def test_every_door_has_a_rule_and_every_rule_a_door() -> None:
    found = list(doors())
    assert [str(door) for door in found if rule_of(door.method, door.route) is None] == []
    routes = {door.route for door in found}
    assert sorted(set(PAGES) - routes) == []
    assert sorted(set(OPERATIONS) - {f"{door.method} {door.route}" for door in found}) == []


# Two classes, so that two workers share the walk. What a form takes is read once in a walk: it is the same for all.
class TestWhoeverTrains:
    """Those whose reach ends somewhere."""

    def test_each_door_opens_to_whom_the_policy_says(self, walker: Walker) -> None:
        wrong = _wrongly_answered(walker, TRAINERS, WITH_A_ROLE)
        assert wrong == [], "\n".join(wrong)


class TestWhoeverLeads:
    """Those who see the whole clinic, or its papers, and whoever may do nothing."""

    def test_each_door_opens_to_whom_the_policy_says(self, walker: Walker) -> None:
        wrong = _wrongly_answered(walker, LEADERS, NO_COVER)
        assert wrong == [], "\n".join(wrong)

    def test_without_a_role_no_door_opens(self, walker: Walker) -> None:
        """Whatever the role was that they do not have: one walk for all."""
        assert _wrongly_answered(walker, [Role.CLINIC_LEAD], [Relation.NONE]) == []

    def test_a_stranger_is_let_in_nowhere(self, walker: Walker) -> None:
        nobody, wrong = a_staff(), []
        for door in doors():
            rule = rule_of(door.method, door.route)
            if rule is None or rule.kind is Kind.OPEN:
                continue
            with taken_back():
                answer = walker.tries(Client(raise_request_exception=False), nobody, door)
            if not answer.refused and answer.status not in (403, 405):
                wrong.append(f"{door}: {answer.status}")
        assert wrong == [], "\n".join(wrong)


def test_every_role_is_walked() -> None:
    assert sorted([*TRAINERS, *LEADERS]) == sorted(Role), "a new role belongs into one of the two classes"


def _wrongly_answered(walker: Walker, roles: Sequence[Role], relations: Sequence[Relation]) -> list[str]:
    """Try every door as each of them; what is wrong, with who stood before it."""
    wrong = []
    walker.reads_every_form()
    for role in roles:
        for relation in relations:
            with taken_back():
                wrong += [f"{role}, {relation}: {one}" for one in _wrong_to(walker, role, relation)]
    return wrong


def _wrong_to(walker: Walker, role: Role, relation: Relation) -> list[str]:
    """Try every door that the relation matters at."""
    actor = somebody(role, relation, walker.world)
    browser = browser_of(actor)
    wrong = []
    for door in doors():
        rule = rule_of(door.method, door.route)
        if rule is None or (rule.kind in (Kind.OPEN, Kind.SIGNED_IN, Kind.CLINIC) and relation not in WHOEVER):
            continue
        answer = walker.tries(browser, actor, door)
        if answer.status != 405 and not _as_ruled(rule, role, relation, answer):
            wrong.append(f"{door}: {answer.status} {'refused' if answer.refused else 'let through'}")
    return wrong


def _as_ruled(rule: Rule, role: Role, relation: Relation, answer: Answer) -> bool:
    if answer.status >= 500 and rule.kind is not Kind.OPEN:  # the health address may fail
        return False
    if rule.action is None:
        return True
    allowed = may(role, relation, rule.action, about_a_person=rule.kind is not Kind.CLINIC)
    if rule.kind is Kind.FACT:  # what a former therapist knows late is kept and answered, and not taken
        kept = any(f'"outcome":"{verdict}"' in answer.said for verdict in ("refused", "held"))
        return (answer.status < 300 and not kept) == allowed
    return answer.refused is not allowed
