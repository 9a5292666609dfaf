"""Two fences, one answer: over random clinics, what raw SQL gives to somebody is what the code's fence gives them."""

from __future__ import annotations

import random
from datetime import timedelta
from itertools import pairwise

import pytest

from caseload.models import Assignment, Cover, Episode, Pause, Person
from clinic import clock
from clinic.access.standing import standing_as
from clinic.staff.models import RoleTerm, Site, Staff
from clinic.staff.roles import Role
from tests.fences.test_fence import allowed, keys
from tests.makers import JOINED, a_person, a_site, a_staff, now

pytestmark = pytest.mark.django_db
TABLES = ("caseload_person", "caseload_episode", "caseload_assignment", "caseload_cover", "caseload_pause")


def a_clinic(dice: random.Random) -> list[Staff]:
    """Two sites, eight members of staff with any roles, twenty episodes carried and covered on any days."""
    sites = [a_site("Alder Reach"), a_site("Quay Street")]
    staff = [_somebody(dice, sites) for _ in range(8)]
    for number in range(20):
        site = dice.choice(sites)
        person = a_person(site=dice.choice(sites), family_name=f"Person{number}")
        episode = Episode.objects.create(
            reference=f"R-{dice.getrandbits(60)}", person=person, site=site, created_at=JOINED
        )
        Pause.objects.create(episode=episode, period=(JOINED.date(), None), reason="rest")
        for model in (Assignment, Cover):
            _in_turns(dice, model, episode, staff)
    return staff


def _somebody(dice: random.Random, sites: list[Site]) -> Staff:
    who = a_staff(site=dice.choice(sites), registered=False, authorised=())
    who.role_terms.all().delete()
    today = now().date()
    for role in dice.sample(list(Role), dice.choice((0, 1, 1, 1, 2))):
        start, end = dice.choice(
            ((JOINED.date(), None), (today, None), (JOINED.date(), today), (today + timedelta(days=1), None))
        )
        RoleTerm.objects.create(staff=who, role=role, period=(start, end))
    return who


def _in_turns(dice: random.Random, model: type[Assignment] | type[Cover], episode: Episode, staff: list[Staff]) -> None:
    """Nobody, or up to three turns one after the other: over, now, to come."""
    edges = sorted(now() + timedelta(minutes=dice.randint(-3000, 3000)) for _ in range(4))
    for start, end in pairwise(edges):
        if dice.random() < 0.6:
            who = dice.choice(staff)
            model.objects.create(episode=episode, staff=who, period=(start, end), made_by=who)


@pytest.mark.parametrize("seed", range(12))
def test_both_fences_stand_in_the_same_place(seed: int) -> None:
    compared = 0
    for actor in a_clinic(random.Random(seed)):
        expected = {table: allowed(actor, table) for table in TABLES}
        roles = actor.roles_on(clock.now().date())
        with standing_as(actor):
            seen = {table: keys(table) for table in TABLES}
        if len(roles) < 2:
            assert seen == expected, roles
        else:  # the code takes the widest of several reaches, the database each of them: never less
            assert all(expected[table] <= seen[table] for table in TABLES), roles
            assert seen == {table: _by_each_role(actor, table) for table in TABLES}, roles
        compared += sum(map(len, seen.values()))
    assert compared > 0


def _by_each_role(actor: Staff, table: str) -> set[object]:
    """What somebody with one of the actor's roles at a time would be given."""
    day = clock.now().date()
    roles, found = actor.roles_on(day), set()
    for role in roles:
        actor.remember_roles(day, [role])
        found |= allowed(actor, table)
    actor.remember_roles(day, roles)
    return found


def test_a_moment_more_or_less() -> None:
    """The instant that was said decides, not the database's clock; the end of a period is outside."""
    who, at = a_staff(Role.THERAPIST), now()
    person = a_person()
    episode = Episode.objects.create(reference="R-edge", person=person, site=person.site, created_at=JOINED)
    start, end = at - timedelta(days=900), at - timedelta(days=800)
    Assignment.objects.create(episode=episode, staff=who, period=(start, end), made_by=who)
    tick = timedelta(microseconds=1)
    for instant, seen in ((start - tick, False), (start, True), (end - tick, True), (end, False), (at, False)):
        with standing_as(who, instant):
            assert Episode.objects.filter(pk=episode.pk).exists() is seen, instant
            assert Person.objects.filter(pk=person.pk).exists() is seen, instant
