"""Nothing lost and nothing raised twice: broker down a while, worker killed in the middle, scheduler running twice."""

from __future__ import annotations

import time
from collections import Counter
from collections.abc import Iterator
from datetime import timedelta

import pytest

from caseload.models import Episode, PlannedReview, Reminder
from checklists.alerts.models import Alert, AlertStep, Notice
from clinic.outbox.models import OutboxRow
from clinic.staff.models import Staff
from tests.chaos.background import Background, a_background, eventually
from tests.makers import a_check, a_fall, a_lead, a_therapist, ago, an_attempt, an_episode, now, recorded

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.chaos, pytest.mark.timeout(240)]


@pytest.fixture
def background(monkeypatch: pytest.MonkeyPatch) -> Iterator[Background]:
    """Nothing runs yet: each test starts what it needs."""
    with a_background(monkeypatch) as there:
        yield there


def a_danger() -> tuple[Staff, Staff, Episode]:
    """A critical act that somebody must hear of."""
    lead, therapist = a_lead(), a_therapist()
    episode = an_episode(assigned_to=therapist)
    recorded(therapist, episode, a_check(at=ago(minutes=5)), an_attempt(help="alone"))
    return lead, therapist, episode


def all_told() -> bool:
    return not OutboxRow.objects.filter(done_at__isnull=True).exists()


def topics(staff: Staff) -> Counter[str]:
    return Counter(Notice.objects.filter(staff=staff).values_list("topic", flat=True))


def test_news_is_on_the_page_within_five_seconds_and_in_the_mail_without_a_name(background: Background) -> None:
    background.run("worker")
    background.run("scheduler")
    a_danger()
    assert eventually(all_told), background.log()  # everything is warm now
    before, began = Notice.objects.count(), time.monotonic()
    _, therapist, episode = a_danger()
    assert eventually(lambda: Notice.objects.count() >= before + 3, 5), background.log()
    assert time.monotonic() - began < 5
    assert eventually(lambda: sum(one["To"] == therapist.email for one in background.mail.messages) == 1)
    (letter,) = [one for one in background.mail.messages if one["To"] == therapist.email]
    said = f"{letter['Subject']} {letter.get_payload()}"
    assert episode.reference in said
    assert episode.person.family_name not in said
    assert episode.person.number not in said


def test_a_broker_that_is_down_for_a_while_loses_nothing(background: Background) -> None:
    background.run("worker")
    background.run("scheduler")
    broker = background.broker.process
    assert broker is not None
    broker.kill()
    broker.wait()
    began = time.monotonic()
    dangers = [a_danger() for _ in range(3)]
    assert time.monotonic() - began < 20  # nobody at the bars waits for a broker
    time.sleep(3)
    assert Notice.objects.count() == 0
    background.broker.start()
    assert eventually(all_told, 90), background.log()
    for lead, therapist, _ in dangers:
        assert topics(therapist) == {"alert.raised": 1}
        assert topics(lead)["alert.raised"] == 3
    assert eventually(lambda: len(background.mail.messages) == Notice.objects.count())


def test_a_worker_that_is_killed_in_the_middle_loses_nothing(background: Background) -> None:
    background.mail.hangs.set()
    worker = background.run("worker")
    background.run("scheduler")
    lead, therapist, _ = a_danger()
    assert background.mail.reached.wait(40), background.log()
    background.kill(worker)  # it has told the mail server everything, and heard nothing
    background.mail.hangs.clear()
    assert not all_told()
    background.run("worker")
    assert eventually(all_told, 90), background.log()
    assert (topics(therapist), topics(lead)) == ({"alert.raised": 1}, {"alert.raised": 1})
    assert Notice.objects.filter(mailed_at__isnull=True).count() == 0
    ids = Counter(letter["Message-ID"] for letter in background.mail.messages)
    assert set(ids.values()) == {1}
    assert {letter["To"] for letter in background.mail.messages} == {therapist.email, lead.email}


def test_two_schedulers_and_two_workers_raise_nothing_twice(background: Background) -> None:
    lead, therapist = a_lead(), a_therapist()
    reviews = []
    for _ in range(5):
        episode = an_episode(assigned_to=therapist)
        recorded(therapist, episode, a_fall(at=ago(days=4, hours=2)))
        due_on = now().date() - timedelta(days=1)
        reviews.append(PlannedReview(episode=episode, due_on=due_on, planned_by=therapist, planned_at=ago(days=9)))
    PlannedReview.objects.bulk_create(reviews)
    Alert.objects.update(known_at=ago(hours=1))
    for _ in range(2):
        background.run("worker", ESCALATE_CRITICAL_MINUTES="0")
        background.run("scheduler")
    assert eventually(lambda: AlertStep.objects.filter(kind="escalated").count() >= 5, 90), background.log()
    assert eventually(lambda: Reminder.objects.count() >= 5, 90), background.log()
    time.sleep(12)  # time enough for every scan to come round again, twice over
    assert eventually(all_told, 60), background.log()
    assert list(Alert.objects.values_list("rule", flat=True)) == ["fall_unreviewed"] * 5
    kinds = Counter(AlertStep.objects.values_list("kind", flat=True))
    assert kinds == {"raised": 5, "escalated": 5}
    assert Counter(Reminder.objects.values_list("rung", flat=True)) == {"overdue": 5}
    assert topics(therapist) == {"alert.raised": 5, "review.overdue": 5}
    assert topics(lead) == {"alert.raised": 5, "alert.escalated": 5}
    assert OutboxRow.objects.filter(topic="notice.made").count() == Notice.objects.count()
    assert eventually(lambda: len(background.mail.messages) == Notice.objects.count())
