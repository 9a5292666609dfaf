"""The page of what was set aside: the sender sees what was refused, the lead sees all, and lets late facts in or
not."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from django.test import Client

from caseload.models import Episode
from checklists.alerts.models import Notice
from checklists.models import Entry, HeldEntry, RefusedEntry
from checklists.person.facts import happened_at
from clinic import clock
from clinic.audit.models import TrailRow
from clinic.models import Staff
from clinic.outbox.drain import drain
from tests.makers import (
    a_fall,
    a_lead,
    a_records_officer,
    a_therapist,
    ago,
    an_attempt,
    an_episode,
    recorded,
)

pytestmark = pytest.mark.django_db
Enter = Callable[..., Client]


def text_of(browser: Client) -> str:
    answer = browser.get("/aside/")
    assert answer.status_code == 200
    return answer.content.decode()


def a_late_fact() -> tuple[Staff, HeldEntry]:
    therapist = a_therapist()
    recorded(therapist, an_episode(assigned_to=therapist), an_attempt(at=ago(days=9)))
    return therapist, HeldEntry.objects.get()


def test_the_sender_reads_what_was_refused_and_why(enter: Enter) -> None:
    therapist = a_therapist()
    recorded(therapist, an_episode(assigned_to=therapist), a_fall(injury="very"))
    said = text_of(enter(therapist))
    assert "injury: unknown injury" in said
    assert "Known words: none, minor, moderate, serious." in said
    assert "/release/" not in said


def test_the_lead_reads_what_happened_and_when_before_letting_it_in(enter: Enter) -> None:
    a_late_fact()
    said = " ".join(text_of(enter(a_lead())).split())
    assert f"It happened {ago(days=9).day} " in said
    assert said.index("It happened") < said.index("As it came"), "without unfolding anything"


def test_whoever_may_record_enters_again_what_was_refused_and_nobody_once_the_episode_is_closed(enter: Enter) -> None:
    therapist = a_therapist()
    episode = an_episode(assigned_to=therapist)
    recorded(therapist, episode, a_fall(injury="very"))
    again = f'href="/people/{episode.pk}/paper/enter/?again={RefusedEntry.objects.get().pk}"'
    assert again in text_of(enter(therapist))
    Episode.objects.filter(pk=episode.pk).update(closed_at=clock.now())
    assert again not in text_of(enter(therapist))


def test_what_was_refused_stands_in_its_row_and_is_seen_to_once_it_is_recorded(enter: Enter) -> None:
    therapist = a_therapist(name="Dele Morrowby")
    episode = an_episode(assigned_to=therapist)
    recorded(therapist, episode, a_fall(injury="very", circumstances="At the stairs"))
    address = f"/people/{episode.pk}/paper/enter/?again={RefusedEntry.objects.get().pk}"
    browser = enter(a_lead())
    answer = browser.get(address)
    said = answer.content.decode()
    assert "Dele Morrowby sent it and can enter it too" in said
    assert "<b>injury: unknown injury &#x27;very&#x27;</b>" in said
    assert TrailRow.objects.filter(verb="person.opened", detail__page="enter again").count() == 1
    page = answer.context["page"]
    (line,) = page.lines
    typed = {f"row0-{one.name}": one.value() for one in line.form if one.value()}
    assert (typed["row0-kind"], typed["row0-note"]) == ("fall", "As told by Dele Morrowby. At the stairs")
    sent = {"rows": 1, "day": page.day["day"].value(), **typed, "row0-injury": "minor"}
    assert "recorded" in browser.post(address, sent).context["page"].counts
    assert Entry.objects.get(kind="fall").episode_id == episode.pk
    assert RefusedEntry.objects.get().settled_at is not None


def test_a_sent_text_that_is_no_instant_has_no_day() -> None:
    assert [happened_at({"at": at}) for at in ("soon", "2026-11-16T10:20:00", 7)] == [None] * 3


def test_a_colleague_does_not(enter: Enter) -> None:
    therapist = a_therapist()
    recorded(therapist, an_episode(assigned_to=therapist), a_fall(injury="very"))
    assert "injury" not in text_of(enter(a_therapist()))


def test_the_lead_finds_there_what_a_tablet_judged_differently_and_nobody_else_does(enter: Enter) -> None:
    assert 'href="/judged/"' in text_of(enter(a_lead()))
    assert "/judged/" not in text_of(enter(a_therapist()))


def test_the_records_officer_has_no_such_page(enter: Enter) -> None:
    assert enter(a_records_officer()).get("/aside/").status_code == 403


def test_what_was_sent_is_shown_as_text_whatever_is_in_it(enter: Enter) -> None:
    therapist = a_therapist()
    recorded(therapist, an_episode(assigned_to=therapist), an_attempt(note="<script>alert(1)</script>", skill="x"))
    assert "<script>alert(1)" not in text_of(enter(therapist))


def test_a_lead_lets_a_late_fact_in(enter: Enter) -> None:
    therapist, held = a_late_fact()
    browser = enter(a_lead())
    assert "more than seven days ago" in text_of(browser)
    answer = browser.post(f"/aside/held/{held.pk}/release/", follow=True)
    assert f"({held.episode.person.full_name}). It stands in the record" in answer.content.decode()
    assert Entry.objects.get(id=held.entry).by == therapist
    assert "more than seven days ago" not in text_of(browser)


def test_a_lead_turns_a_late_fact_away(enter: Enter) -> None:
    _, held = a_late_fact()
    enter(a_lead()).post(f"/aside/held/{held.pk}/turn-away/")
    held.refresh_from_db()
    assert (held.released, Entry.objects.filter(id=held.entry).exists()) == (False, False)


def test_a_therapist_lets_nothing_in(enter: Enter) -> None:
    therapist, held = a_late_fact()
    assert enter(therapist).post(f"/aside/held/{held.pk}/release/").status_code == 403
    assert not Entry.objects.filter(id=held.entry).exists()


def test_what_has_been_seen_to_no_longer_stands_there(enter: Enter) -> None:
    therapist = a_therapist()
    recorded(therapist, an_episode(assigned_to=therapist), an_attempt(skill="flying"))
    browser = enter(therapist)
    browser.post(f"/aside/refused/{RefusedEntry.objects.get().pk}/settle/")
    assert "flying" not in text_of(browser)


def test_the_alerts_page_leads_there(enter: Enter) -> None:
    therapist = a_therapist()
    recorded(therapist, an_episode(assigned_to=therapist), an_attempt(skill="flying"))
    assert "1 mark sent and refused" in enter(therapist).get("/alerts/").content.decode()


def test_the_alerts_page_tells_what_waits_for_a_decision_from_what_was_refused(enter: Enter) -> None:
    a_late_fact()
    drain()
    browser = enter(a_lead())
    said = browser.get("/alerts/").content.decode()
    assert "Waits for your decision" in said
    assert "sent and refused" not in said


def test_what_is_decided_is_news_no_more(enter: Enter) -> None:
    lead, other = a_lead(), a_lead()
    _, held = a_late_fact()
    drain()
    assert {row.staff for row in Notice.objects.filter(topic="entry.held", read_at=None)} == {lead, other}
    enter(lead).post(f"/aside/held/{held.pk}/turn-away/")
    drain()
    assert not Notice.objects.filter(topic="entry.held", read_at=None).exists()
