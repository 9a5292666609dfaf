"""Every action × role × relation: what the table says is what lists and single rows do."""

from __future__ import annotations

from itertools import product
from typing import Any

import pytest

from caseload.models import Episode
from clinic import access, clock
from clinic.access import POLICY, Action, Scope
from clinic.errors import Denied, NotFound
from clinic.staff.models import Staff
from clinic.staff.roles import Role
from tests.makers import a_cover, a_site, a_staff, a_therapist, ago, an_episode

RELATIONS = ("assigned", "covering", "cover over", "same site", "other site")
REACHED_BY = {
    Scope.OWN: {"assigned", "covering"},
    Scope.SITE: {"assigned", "covering", "cover over", "same site"},
    Scope.ALL: set(RELATIONS),
}


def episode_for(actor: Staff, relation: str) -> Episode:
    """An episode that stands in this relation to the actor."""
    if relation == "assigned":
        return an_episode(assigned_to=actor, site=actor.site)
    colleague = a_therapist(site=actor.site)
    if relation == "other site":
        quay = a_site("Quay Street")
        return an_episode(assigned_to=a_therapist(site=quay), site=quay)
    episode = an_episode(assigned_to=colleague, site=actor.site)
    if relation == "covering":
        a_cover(episode, actor, start=ago(days=1), end=None)
    if relation == "cover over":
        a_cover(episode, actor, start=ago(days=3), end=ago(days=1))
    return episode


@pytest.mark.django_db
@pytest.mark.parametrize(("role", "relation"), list(product(Role, RELATIONS)))
def test_lists_and_single_rows_follow_the_table_for_every_action(role: Role, relation: str) -> None:
    actor = a_staff(role)
    episode, at = episode_for(actor, relation), clock.now()
    rows = Episode.objects.all()
    sees = relation in REACHED_BY.get(POLICY[Action.SEE_PERSON].get(role, ""), set())  # type: ignore[call-overload]  # no scope finds nothing
    for action in Action:
        scope = POLICY[action].get(role)
        allowed = scope is not None and relation in REACHED_BY[scope]
        assert access.scoped(actor, action, rows, at=at).filter(pk=episode.pk).exists() is allowed, action
        assert outcome(actor, action, rows, episode, at) == ("got" if allowed else "denied" if sees else "none"), action


def outcome(actor: Staff, action: Action, rows: Any, episode: Episode, at: Any) -> str:
    """What `access.get` does with one row."""
    try:
        access.get(actor, action, rows, at=at, pk=episode.pk)
    except NotFound:
        return "none"
    except Denied:
        return "denied"
    return "got"


@pytest.mark.django_db
@pytest.mark.parametrize("action", list(Action))
def test_who_has_no_role_today_may_do_nothing(action: Action) -> None:
    actor = a_staff(Role.CLINIC_LEAD)
    actor.role_terms.update(period=(ago(days=900).date(), ago(days=1).date()))
    assert access.reach(actor, action, clock.now()) is None


@pytest.mark.django_db
@pytest.mark.parametrize("action", list(Action))
def test_who_has_left_may_do_nothing(action: Action) -> None:
    actor = a_staff(*Role, is_active=False)
    assert access.reach(actor, action, clock.now()) is None


@pytest.mark.django_db
def test_of_several_roles_the_widest_counts() -> None:
    actor = a_staff(Role.THERAPIST, Role.CLINIC_LEAD)
    assert access.reach(actor, Action.SEE_PERSON, clock.now()) is Scope.ALL


def test_the_table_names_every_action() -> None:
    assert set(POLICY) == set(Action)
