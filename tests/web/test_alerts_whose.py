"""Whose an alert is to answer: the therapist's for a time, in which a lead may too, and then the lead's."""

from __future__ import annotations

import re
from collections.abc import Callable

import pytest
from django.test import Client

from checklists.alerts.models import Alert
from clinic.models import Staff
from tests.makers import a_cover, a_lead, a_therapist, ago, an_episode
from tests.web.test_alerts_page import a_skipped_start_check, text_of

pytestmark = pytest.mark.django_db
Enter = Callable[..., Client]


def test_a_lead_reads_who_has_it_still_and_until_when_and_may_answer_too(enter: Enter) -> None:
    therapist, colleague = a_therapist(name="Wren Astley"), a_therapist(name="Bo Farrow")
    episode = an_episode(assigned_to=therapist)
    a_skipped_start_check(therapist, episode)
    own, lead = enter(therapist), enter(a_lead())
    said = text_of(lead)
    assert (until := re.search(r"Wren Astley has until ([^;]*\d\d:\d\d); you may answer too", said))
    assert f"{until[1]} leads will be told, unless answered" in said
    assert "for you to answer" not in said
    assert "Say what was done" in said
    assert lead.get("/alerts/tally/").json()["mine"] == 1
    assert "for you to answer" in text_of(own)
    a_cover(episode, colleague, start=ago(minutes=1), end=None)
    assert "Bo Farrow, Wren Astley have until" in text_of(lead)
    assert "for you to answer" in text_of(enter(colleague))


def test_once_the_therapists_time_is_over_or_the_leads_were_told_it_is_for_the_lead_to_answer(enter: Enter) -> None:
    therapist = a_therapist()
    a_skipped_start_check(therapist, an_episode(assigned_to=therapist))
    lead = enter(a_lead())
    assert "you may answer too" in text_of(lead)
    Alert.objects.update(escalated_at=ago(minutes=1))
    assert "for you to answer" in text_of(lead)
    Alert.objects.update(escalated_at=None, severity="critical")
    assert "for you to answer" in text_of(lead)
    Alert.objects.update(severity="major", known_at=ago(days=2))
    assert "for you to answer" in text_of(lead)


def test_what_nobody_carries_is_for_the_lead_to_answer(enter: Enter) -> None:
    therapist = a_therapist()
    a_skipped_start_check(therapist, an_episode(assigned_to=therapist))
    lead = enter(a_lead())
    Staff.objects.filter(pk=therapist.pk).update(is_active=False)
    assert "for you to answer" in text_of(lead)
