"""The permit that the write path works out from its locking statement is the one that `clinic.access` gives."""

from __future__ import annotations

import threading
from datetime import timedelta
from typing import Any

import pytest
from django.db import connection, transaction

from caseload.models import Episode
from checklists.models import Entry, Head
from checklists.record.lock import lock
from checklists.record.services import record_entries
from clinic import access
from clinic.access import Action
from clinic.errors import NotFound
from clinic.staff.roles import Role
from tests.makers import a_cover, a_site, a_staff, a_therapist, ago, an_attempt, an_episode, recorded

RELATIONS = ("assigned", "covering", "covered once", "same site", "elsewhere")


def related(relation: str, role: str) -> Any:
    staff = a_staff(role, site=a_site("Quay Street" if relation == "elsewhere" else "Alder Reach"))
    episode = an_episode(assigned_to=staff if relation == "assigned" else None, site=a_site())
    if relation == "covering":
        a_cover(episode, staff, start=ago(days=1), end=None)
    if relation == "covered once":
        a_cover(episode, staff, start=ago(days=9), end=ago(days=2))
    return staff, episode


@pytest.mark.django_db
@pytest.mark.parametrize("relation", RELATIONS)
@pytest.mark.parametrize("role", Role.values)
def test_the_lock_and_the_gate_agree_for_every_action(role: Any, relation: Any) -> None:
    staff, episode = related(relation, role)
    with transaction.atomic():
        locked = lock(staff, episode.pk, [])
    for at in (ago(), ago(days=5), ago(days=90)):
        for action in Action:
            seen = access.scoped(staff, action, Episode.objects.all(), at=at).filter(pk=episode.pk).exists()
            assert bool(locked.may(action, at)) == seen, (action, at)


@pytest.mark.django_db
def test_whoever_has_left_records_nothing() -> None:
    therapist = a_therapist()
    episode = an_episode(assigned_to=therapist)
    therapist.is_active = False
    with pytest.raises(NotFound):
        recorded(therapist, episode, an_attempt())


@pytest.mark.django_db(transaction=True)
def test_the_same_fact_from_two_doors_at_once_is_taken_once() -> None:
    therapist = a_therapist()
    episode = an_episode(assigned_to=therapist)
    attempts = [an_attempt("don_check", "none", at=ago(seconds=99 - n)) for n in range(20)]
    outcomes = in_threads(4, lambda: [recorded(therapist, episode, one).verdicts[0].outcome for one in attempts])
    assert sorted(one for many in outcomes for one in many) == ["accepted"] * 20 + ["repeated"] * 60
    assert Entry.objects.filter(kind="attempt").count() == 20
    assert Head.objects.get(episode=episode).entries == 21


@pytest.mark.django_db(transaction=True)
def test_one_id_sent_to_two_episodes_at_once_goes_to_one() -> None:
    therapist = a_therapist()
    episodes = [an_episode(assigned_to=therapist), an_episode(assigned_to=therapist)]
    for _ in range(5):
        attempt, start = an_attempt(at=ago(minutes=1)), threading.Barrier(2)
        places = iter(episodes)

        def send(attempt: Any = attempt, start: Any = start, places: Any = places) -> Any:
            episode = next(places)
            start.wait(5)
            return record_entries(actor=therapist, episode_id=episode.pk, entries=[attempt]).verdicts[0].outcome

        assert sorted(in_threads(2, send)) == ["accepted", "refused"]


def in_threads(count: int, act: Any) -> Any:
    """What each of several threads, each with a connection of its own, comes back with."""
    found, faults = [], []

    def run() -> Any:
        try:
            found.append(act())
        except Exception as fault:
            faults.append(fault)
        finally:
            connection.close()

    threads = [threading.Thread(target=run) for _ in range(count)]
    for one in threads:
        one.start()
    for one in threads:
        one.join(timedelta(seconds=60).total_seconds())
    assert faults == []
    return found
