"""Emergency access: one episode, one hour, reading only, the leads told at once, judged afterwards by another."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.db import IntegrityError, connection, transaction
from django.db.backends.postgresql.psycopg_any import DateTimeTZRange

from caseload.emergency.models import EmergencyAccess
from caseload.emergency.selectors import emergencies, emergency
from caseload.emergency.services import NobodyFound, judge_emergency, open_emergency
from caseload.episode.models import Episode
from caseload.looked.services import list_looks
from checklists.alerts.handlers import tell_emergency
from checklists.alerts.models import Notice
from checklists.person.services import note_opened, note_printed
from checklists.record.models import Entry
from clinic import access, clock
from clinic.access import POLICY, Action
from clinic.audit.models import TrailRow
from clinic.clock import at_instant
from clinic.errors import Conflict, Denied, Invalid, NotFound
from clinic.models import Staff
from clinic.outbox.models import OutboxRow
from clinic.staff.models import RoleTerm
from clinic.staff.roles import Role
from tests.makers import (
    a_lead,
    a_prosthetist,
    a_records_officer,
    a_therapist,
    an_attempt,
    an_episode,
    recorded,
)

pytestmark = pytest.mark.django_db(transaction=True)
WHY = "They fell in the corridor; I must know about the knee."


def opened(actor: Staff, episode: Episode, **changed: str) -> EmergencyAccess:
    """By number and family name, with a reason."""
    asked = {"number": episode.person.number, "family_name": episode.person.family_name, "reason": WHY}
    return open_emergency(actor=actor, **{**asked, **changed})


def may(actor: Staff, episode: Episode, action: Action, **later: float) -> bool:
    """Whether the gate shows this episode for this action."""
    rows = Episode.objects.filter(pk=episode.pk)
    return access.scoped(actor, action, rows, at=clock.now() + timedelta(**later)).exists()


def test_it_opens_this_episode_for_reading_for_an_hour_and_no_other() -> None:
    actor, episode, other = a_therapist(), an_episode(), an_episode()
    assert not may(actor, episode, Action.SEE_PERSON)
    opened(actor, episode)
    assert may(actor, episode, Action.SEE_PERSON)
    assert may(actor, episode, Action.SEE_PERSON, minutes=59)
    assert not may(actor, episode, Action.SEE_PERSON, minutes=61)
    assert not may(actor, other, Action.SEE_PERSON)


@pytest.mark.parametrize("action", [action for action in Action if action is not Action.SEE_PERSON])
def test_it_adds_no_other_right(action: Any) -> None:
    actor, episode = a_therapist(), an_episode()
    before = may(actor, episode, action)
    opened(actor, episode)
    assert may(actor, episode, action) == before


def test_it_records_prints_and_signs_nothing() -> None:
    actor, episode = a_therapist(), an_episode()
    opened(actor, episode)
    count = Entry.objects.count()
    with pytest.raises((Denied, NotFound)):
        recorded(actor, episode, an_attempt())
    with pytest.raises(Denied):
        note_printed(actor=actor, episode_id=episode.pk, what="cleared to do")
    assert Entry.objects.count() == count


@pytest.mark.parametrize("reason", ["", "   ", "urgent"])
def test_without_a_reason_that_can_be_weighed_it_stays_shut(reason: Any) -> None:
    actor, episode = a_therapist(), an_episode()
    with pytest.raises(Invalid, match="Say"):
        opened(actor, episode, reason=reason)
    assert not may(actor, episode, Action.SEE_PERSON)


@pytest.mark.parametrize("wrong", [{"number": "99-9999"}, {"family_name": "Nobody"}, {"number": ""}])
def test_both_identifiers_must_be_theirs_and_a_try_in_vain_leaves_its_row(wrong: Any) -> None:
    actor, episode = a_therapist(), an_episode()
    with pytest.raises(NobodyFound, match="Check both"):
        opened(actor, episode, **wrong)
    assert TrailRow.objects.filter(verb="emergency.nobody_found", actor=actor).count() == 1


def test_whoever_sees_the_person_anyway_needs_none() -> None:
    mine = a_therapist()
    with pytest.raises(Conflict, match="anyway"):
        opened(mine, an_episode(assigned_to=mine))
    assert not EmergencyAccess.objects.exists()


@pytest.mark.parametrize("make", [a_lead, a_prosthetist, a_records_officer])
def test_other_roles_have_no_such_door(make: Any) -> None:
    with pytest.raises(Denied):
        opened(make(), an_episode())


def test_asked_again_within_the_hour_it_is_the_same() -> None:
    actor, episode = a_therapist(), an_episode()
    assert opened(actor, episode).pk == opened(actor, episode).pk


def test_the_leads_are_told_at_once_and_once() -> None:
    lead, actor, episode = a_lead(), a_therapist(), an_episode()
    opened(actor, episode)
    news = OutboxRow.objects.get(topic="emergency.opened")
    assert news.due_at <= clock.now()
    tell_emergency(news.payload, clock.now())
    tell_emergency(news.payload, clock.now())
    notice = Notice.objects.get(topic="emergency.opened")
    assert (notice.staff_id, notice.severity, notice.episode_id) == (lead.pk, "critical", episode.pk)


def test_what_is_opened_stands_in_the_trail_as_such_and_before_the_judge() -> None:
    lead, actor, episode = a_lead(), a_therapist(), an_episode()
    row = opened(actor, episode)
    note_opened(actor=actor, episode_id=episode.pk, page="person")
    assert TrailRow.objects.filter(verb="person.opened").latest("number").detail["as"] == "emergency access"
    assert [seen.what for seen in emergency(lead, row.pk, at=clock.now())[1]] == ["emergency opened", "person"]


def test_a_lead_judges_it_once_and_says_what_was_found() -> None:
    lead, row = a_lead(), opened(a_therapist(), an_episode())
    assert [one.pk for one in emergencies(lead, at=clock.now())] == [row.pk]
    with pytest.raises(Invalid, match="what you found"):
        judge_emergency(actor=lead, emergency_id=row.pk, judgement="needed", text=" ")
    judged = judge_emergency(actor=lead, emergency_id=row.pk, judgement="not_needed", text="The colleague was here.")
    assert (judged.judged_by_id, judged.judgement) == (lead.pk, "not_needed")
    with pytest.raises(Conflict, match="already"):
        judge_emergency(actor=lead, emergency_id=row.pk, judgement="needed", text="After all.")


def test_a_therapist_judges_none_and_nobody_their_own() -> None:
    actor = a_therapist()
    row = opened(actor, an_episode())
    with pytest.raises((Denied, NotFound)):
        judge_emergency(actor=actor, emergency_id=row.pk, judgement="needed", text="It was.")
    with pytest.raises(Denied):
        emergencies(actor, at=clock.now())
    assert Action.JUDGE_EMERGENCY in POLICY


def test_whoever_has_become_a_lead_since_does_not_judge_their_own() -> None:
    actor = a_therapist()
    row = opened(actor, an_episode())
    RoleTerm.objects.create(staff=actor, role=Role.CLINIC_LEAD, period=(clock.now().date(), None))
    risen = Staff.objects.get(pk=actor.pk)
    with pytest.raises(Denied, match="your own"):
        judge_emergency(actor=risen, emergency_id=row.pk, judgement="needed", text="It was.")


def test_who_looked_is_told_to_nobody_but_the_records_officer() -> None:
    number, today = an_episode().person.number, clock.now().date()
    for actor in (a_lead(), a_therapist()):
        with pytest.raises(Denied):
            list_looks(actor=actor, number=number, first=today, last=today)
    assert list_looks(actor=a_records_officer(), number=number, first=today, last=today).number == number


@pytest.mark.parametrize("hours", [1.01, 24])
def test_the_database_holds_the_hour(hours: Any) -> None:
    period = DateTimeTZRange(clock.now(), clock.now() + timedelta(hours=hours))
    with pytest.raises(IntegrityError, match="emergency_is_an_hour"), transaction.atomic():
        EmergencyAccess.objects.create(episode=an_episode(), staff=a_therapist(), period=period, reason=WHY)
    with connection.cursor() as cursor:
        cursor.execute("SELECT count(*) FROM caseload_emergencyaccess")
        assert cursor.fetchone() == (0,)


def test_after_the_hour_it_can_be_opened_anew(settings: Any) -> None:
    settings.CLOCK_CAN_BE_SET = True
    actor, episode = a_therapist(), an_episode()
    first = opened(actor, episode)
    with at_instant(clock.now() + timedelta(hours=2)):
        assert opened(actor, episode).pk != first.pk
