"""What a PIN is good for: recording, whatever the roles, and nothing else at either fence."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta

import pytest
from django.db import transaction

from caseload.models import Episode
from checklists.record.lock import lock
from checklists.signoff.services import sign_off, withdraw_sign_off
from clinic import access, clock
from clinic.access import PIN_ACTIONS, POLICY, Action, Assurance, assurance
from clinic.access.assurance import NeedsMore
from clinic.errors import Denied, NotFound
from clinic.models import Staff
from clinic.staff.roles import Role
from tests.makers import a_lead, a_proof, a_staff, a_therapist, an_attempt, an_entry, an_episode, recorded

pytestmark = pytest.mark.django_db


@pytest.fixture
def by_pin() -> Iterator[None]:
    """Whoever is in hand came in with a PIN."""
    with assurance.acting(Assurance.PIN):
        yield


def within_reach(actor: Staff, episode: Episode) -> tuple[set[Action], set[Action], set[Action]]:
    """The actions that reach an episode: by the list, by the single row, and by the lock of the write path."""
    at, rows = clock.now(), Episode.objects.filter(pk=episode.pk)
    with transaction.atomic():
        locked = lock(actor, episode.pk, [])
    listed = {action for action in Action if access.scoped(actor, action, rows, at=at).exists()}
    return (
        listed,
        {action for action in Action if _got(actor, action, episode)},
        {a for a in Action if locked.may(a, at)},
    )


def _got(actor: Staff, action: Action, episode: Episode) -> bool:
    try:
        access.get(actor, action, Episode.objects.all(), at=clock.now(), pk=episode.pk)
    except (Denied, NotFound):
        return False
    return True


@pytest.mark.parametrize("role", list(Role))
def test_under_a_pin_every_role_has_exactly_what_recording_needs(role: Role, by_pin: None) -> None:
    with assurance.acting(Assurance.PASSWORD):
        actor = a_staff(role)
        episode = an_episode(assigned_to=actor)

    by_table = {action for action in PIN_ACTIONS if role in POLICY[action]}
    assert all(found == by_table for found in within_reach(actor, episode))


@pytest.mark.parametrize("shown", [Assurance.PASSWORD, Assurance.TWO_FACTORS])
def test_whoever_has_shown_more_has_the_whole_table(shown: Assurance) -> None:
    actor = a_staff(*Role)
    episode = an_episode(assigned_to=actor)
    with assurance.acting(shown):
        assert all(found == set(Action) for found in within_reach(actor, episode))


def test_the_list_of_what_a_pin_opens_signs_nothing_and_manages_nobody() -> None:
    assert {
        Action.SEE_PERSON,
        Action.SEE_ALERTS,
        Action.SEE_PROTOCOL,
        Action.RECORD,
        Action.RECORD_KNEE,
    } == PIN_ACTIONS


def test_recording_works_with_a_pin(by_pin: None) -> None:
    with assurance.acting(Assurance.PASSWORD):
        therapist = a_therapist()
        episode = an_episode(assigned_to=therapist)
    done = recorded(therapist, episode, an_attempt("don_check", "none"))
    assert [verdict.outcome for verdict in done.verdicts] == ["accepted"]


def test_a_setting_of_the_knee_is_refused_with_a_pin() -> None:
    bench = a_staff(Role.PROSTHETIST)
    episode = an_episode()
    setting = an_entry("component_change", component="resistance")
    with assurance.acting(Assurance.PIN), pytest.raises(NeedsMore, match="recording only"):
        access.permit(bench, Action.RECORD_SETTING, clock.now())
    with assurance.acting(Assurance.PIN):
        refused = recorded(bench, episode, setting)
    assert [verdict.outcome for verdict in refused.verdicts] == ["refused"]


def test_a_fall_is_not_reviewed_with_a_pin() -> None:
    therapist = a_therapist()
    episode = an_episode(assigned_to=therapist)
    fall = an_entry("fall", injury="none")
    recorded(therapist, episode, fall)
    review = an_entry("fall_review", entry=fall["id"], cleared=[], at=clock.now() + timedelta(seconds=0))
    with assurance.acting(Assurance.PIN):
        assert recorded(therapist, episode, review).verdicts[0].outcome == "refused"


def test_nothing_is_signed_or_withdrawn_with_a_pin_even_with_the_right_password(by_pin: None) -> None:
    with assurance.acting(Assurance.PASSWORD):
        lead = a_lead()
        episode = an_episode(assigned_to=a_therapist())
    with pytest.raises(NeedsMore):
        sign_off(
            actor=lead, episode_id=episode.pk, skill="don_check", digest="x" * 64, proof=a_proof(lead), countersign=None
        )
    with pytest.raises(NeedsMore):
        withdraw_sign_off(actor=lead, episode_id=episode.pk, skill="don_check", reason="why", proof=a_proof(lead))


def test_what_was_shown_before_comes_back_when_a_request_is_over() -> None:
    with assurance.acting(Assurance.PASSWORD):
        with assurance.acting(Assurance.PIN):
            assert assurance.shown() is Assurance.PIN
        assert assurance.shown() is Assurance.PASSWORD
    assert assurance.shown() is Assurance.TWO_FACTORS
