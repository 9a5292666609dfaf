"""Alarms: one while it is open, told to leads and records officers, closed with a word of what came of it."""

from __future__ import annotations

import pytest
from django.core import mail

from checklists.alerts.models import Notice
from clinic.errors import Conflict, Denied, Invalid
from clinic.models import Alarm, Beat, TrailRow
from clinic.outbox.drain import drain
from clinic.watch.alarms import raise_alarm, settle
from clinic.watch.beats import beat
from tests.makers import a_lead, a_prosthetist, a_records_officer, a_therapist, ago, an_assistant, now

pytestmark = pytest.mark.django_db
FOUND = "A row was slipped into the record. Open Watch and follow the guide."


def test_an_alarm_is_told_to_leads_and_records_officers_and_to_nobody_else() -> None:
    lead, officer = a_lead(), a_records_officer()
    others = [a_therapist(), an_assistant(), a_prosthetist()]
    assert raise_alarm("ledger.tampered", FOUND, at=now(), key="ledger:7")
    drain()
    told = set(Notice.objects.filter(topic="alarm.raised").values_list("staff_id", flat=True))
    assert {lead.pk, officer.pk} <= told
    assert not told & {one.pk for one in others}
    letters = [one for one in mail.outbox if officer.email in one.to]
    assert len(letters) == 1
    assert "/watch/" in letters[0].body
    assert "slipped" not in f"{letters[0].subject} {letters[0].body}"


def test_the_same_key_is_the_same_alarm_while_it_is_open() -> None:
    assert raise_alarm("ledger.tampered", FOUND, at=ago(hours=1), key="ledger:7")
    assert not raise_alarm("ledger.tampered", "Found again.", at=now(), key="ledger:7")
    assert Alarm.objects.count() == 1
    settle("ledger:7", actor=a_lead(), at=now(), text="A broken import; see the note.")
    assert raise_alarm("ledger.tampered", FOUND, at=now(), key="ledger:7")
    assert Alarm.objects.count() == 2


def test_a_lead_settles_an_alarm_and_the_trail_knows() -> None:
    lead = a_lead()
    raise_alarm("backup.failed", FOUND, at=ago(hours=1), key="backup")
    assert settle("backup", actor=lead, at=now(), text="  The disk was full; there is room again. ")
    alarm = Alarm.objects.get()
    assert (alarm.settled_by, alarm.settled_text) == (lead, "The disk was full; there is room again.")
    verbs = list(TrailRow.objects.filter(subject="alarm").order_by("number").values_list("verb", "actor"))
    assert verbs == [("alarm.raised", None), ("alarm.settled", lead.pk)]


def test_a_therapist_settles_none_and_nobody_without_a_word() -> None:
    raise_alarm("backup.failed", FOUND, at=ago(hours=1), key="backup")
    with pytest.raises(Denied):
        settle("backup", actor=a_therapist(), at=now(), text="Fine.")
    with pytest.raises(Invalid):
        settle("backup", actor=a_lead(), at=now(), text="  ")
    assert Alarm.objects.filter(settled_at__isnull=True).count() == 1


def test_what_is_settled_already_says_so_to_a_person_and_not_to_a_programme() -> None:
    with pytest.raises(Conflict):
        settle("backup", actor=a_lead(), at=now(), text="Done.")
    assert not settle("backup", actor=None, at=now(), text="It went well again.")


def test_a_beat_keeps_the_latest_success_and_an_older_one_changes_nothing() -> None:
    first, second = ago(minutes=2), ago(minutes=1)
    beat("verify", second, {"rows": 7})
    beat("verify", first, {"rows": 3})
    assert Beat.objects.values_list("name", "at", "detail").get() == ("verify", second, {"rows": 7})


def test_who_beats_often_writes_seldom() -> None:
    first = ago(seconds=10)
    beat("outbox", first, every=5)
    beat("outbox", ago(seconds=8), every=5)
    assert Beat.objects.get().at == first
    beat("outbox", ago(seconds=4), every=5)
    assert Beat.objects.get().at > first
