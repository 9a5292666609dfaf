"""What must not stop unnoticed: time passes, and page and health address say so, whoever is dead."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from clinic import clock
from clinic.ledger.seal import seal
from clinic.models import Beat, OutboxRow
from clinic.outbox.drain import drain
from clinic.staff.models import Staff
from clinic.watch import look, selectors, words
from clinic.watch.alarms import raise_alarm
from clinic.watch.beats import beat
from clinic.watch.limits import LIMITS
from tests.makers import (
    a_lead,
    a_records_officer,
    a_therapist,
    an_attempt,
    an_episode,
    in_through_the_door,
    now,
    recorded,
)

REAL = {one.name: one.most for one in LIMITS}
SAID = {one.name: one.say for one in LIMITS}
pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def real_limits(settings: Any, monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """The numbers of a clinic's own server, and room enough on its disk."""
    settings.WATCH_LIMITS = dict(REAL)
    monkeypatch.setattr(look, "free", lambda folders: {"/srv/data": 50_000.0})
    selectors.forget()
    yield
    selectors.forget()


def signed_in(staff: Staff) -> Client:
    """A browser of theirs, come in through the door."""
    browser = Client()
    assert in_through_the_door(browser, staff).status_code == 302
    return browser


def all_well(at: datetime) -> None:
    """Everything has just happened."""
    for name in ("outbox", "deadlines", "seal", "verify", "backup", "restore"):
        beat(name, at)


def wrong(at: datetime) -> set[str]:
    return {one.limit.name for one in selectors.state(at).wrong}


def test_all_is_well_where_everything_has_just_happened() -> None:
    at = now()
    all_well(at)
    assert wrong(at) == set()
    assert selectors.state(at).well


@pytest.mark.parametrize(
    ("name", "beaten"),
    [
        ("worker", "outbox"),
        ("deadlines", "deadlines"),
        ("sealer", "seal"),
        ("verify", "verify"),
        ("backup", "backup"),
        ("restore", "restore"),
    ],
)
def test_what_stops_is_said_as_soon_as_its_limit_has_passed(name: str, beaten: str) -> None:
    last, limit = now(), timedelta(seconds=REAL[name])
    for after, expected in ((limit, set()), (limit + timedelta(seconds=1), {name})):
        Beat.objects.all().delete()
        all_well(last + after)
        Beat.objects.filter(name=beaten).update(at=last)
        assert wrong(last + after) == expected


def test_what_never_happened_counts_from_the_day_when_the_tables_were_made() -> None:
    installed = look.look(now()).installed
    assert installed is not None
    assert "backup" not in wrong(installed + timedelta(hours=35))
    assert "backup" in wrong(installed + timedelta(hours=37))


def test_news_that_nobody_tells_is_said_and_news_that_was_told_is_not() -> None:
    at = now()
    row = OutboxRow.objects.create(topic="x.y", payload={}, dedupe_key="x", created_at=at, due_at=at)
    later = at + timedelta(seconds=REAL["outbox"] + 1)
    all_well(later)
    assert wrong(later) == {"outbox"}
    OutboxRow.objects.filter(pk=row.pk).update(done_at=at)
    assert wrong(later) == set()


def test_news_that_fails_again_and_again_is_said_although_it_is_never_due() -> None:
    at = now()
    OutboxRow.objects.create(
        topic="nobody.hears", payload={}, dedupe_key="x", created_at=at, due_at=at + timedelta(hours=1), attempts=5
    )
    for after, expected in ((REAL["retries"], set()), (REAL["retries"] + 1, {"retries"})):
        Beat.objects.all().delete()
        all_well(at + timedelta(seconds=after))
        assert wrong(at + timedelta(seconds=after)) == expected


@pytest.mark.django_db(transaction=True)
def test_a_row_that_is_not_sealed_is_said_after_the_minute_that_is_promised(settings: Any, tmp_path: Path) -> None:
    settings.LEDGER_CHECKPOINT_FILE = str(tmp_path / "checkpoints.txt")  # a ledger that begins here
    therapist = a_therapist()
    episode = an_episode(assigned_to=therapist)
    seal(now())
    assert look.look(now()).unsealed_since is None
    recorded(therapist, episode, an_attempt())
    since = look.look(now()).unsealed_since
    assert since is not None
    for after, expected in ((60, set()), (61, {"seal"})):
        Beat.objects.all().delete()
        OutboxRow.objects.update(done_at=since)
        all_well(since + timedelta(seconds=after))
        assert wrong(since + timedelta(seconds=after)) == expected
    seal(now())
    assert look.look(now()).unsealed_since is None


def test_a_disk_that_is_nearly_full_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    at = now()
    all_well(at)
    for room, expected in ((1024.0, set()), (1023.0, {"disk"})):
        monkeypatch.setattr(look, "free", lambda folders, room=room: {"/srv/data": 9_000.0, "/srv/backups": room})
        assert wrong(at) == expected
    assert selectors.state(at).wrong[0].detail == "/srv/backups"


def test_while_the_demo_is_made_pages_say_so_and_nothing_is_counted(settings: Any) -> None:
    settings.CLOCK_CAN_BE_SET = True
    late = now() + timedelta(days=9)
    with look.being_made():
        assert selectors.state(late).well
        assert "is still being made" in page_of(Client(), late, "/sign-in/")
    assert not selectors.state(late).well
    assert "is still being made" not in page_of(Client(), late, "/sign-in/")


def test_a_limit_of_nothing_watches_nothing_and_says_so(settings: Any) -> None:
    settings.WATCH_LIMITS = REAL | {"backup": 0}
    at = now()
    all_well(at)
    Beat.objects.filter(name="backup").delete()
    assert wrong(at + timedelta(seconds=30)) == set()
    (finding,) = [one for one in selectors.state(at).findings if one.limit.name == "backup"]
    assert (finding.watched, finding.allowed) == (False, "not watched here")


# --- the pages and the address ----------------------------------------------------------------------------------------
def health(at: datetime) -> tuple[int, dict[str, str]]:
    with clock.at_instant(at):
        answer = Client().get("/health")
    return answer.status_code, answer.json()


def page_of(client: Client, at: datetime, path: str = "/password/") -> str:
    with clock.at_instant(at):
        return client.get(path).content.decode()


def test_the_health_address_fails_and_tells_a_stranger_nothing_more(settings: Any) -> None:
    settings.CLOCK_CAN_BE_SET = True
    at = now()
    all_well(at)
    assert health(at) == (200, {"status": "ok"})
    assert health(at + timedelta(seconds=121)) == (503, {"status": "needs attention"})
    assert Client().get("/live").status_code == 200


def test_everybody_reads_one_sentence_and_a_lead_what_it_is(settings: Any) -> None:
    settings.CLOCK_CAN_BE_SET = True
    at = now()
    all_well(at)
    therapist, lead = signed_in(a_therapist()), signed_in(a_lead())
    assert 'class="note' not in page_of(therapist, at).partition("<main")[0]
    late = at + timedelta(seconds=125)
    plain, detailed = page_of(therapist, late), page_of(lead, late)
    assert "Alerts may be reaching nobody at this moment." in plain
    assert "Last time the worker emptied the outbox" not in plain
    assert "Alerts may be reaching nobody at this moment." in detailed
    assert "Last time the worker emptied the outbox: 2 minutes ago; the limit is 2 minutes." in detailed
    assert 'href="/watch/"' in detailed


def test_a_page_that_stays_open_learns_it_too(settings: Any) -> None:
    settings.CLOCK_CAN_BE_SET = True
    at = now()
    all_well(at)
    client = signed_in(a_therapist())
    assert "Alerts may be" not in page_of(client, at, "/watch/now/")
    assert "Alerts may be" in page_of(client, at + timedelta(seconds=125), "/watch/now/")


def test_a_stranger_at_the_sign_in_page_reads_no_detail(settings: Any) -> None:
    settings.CLOCK_CAN_BE_SET = True
    at = now()
    all_well(at)
    page = page_of(Client(), at + timedelta(seconds=125), "/sign-in/")
    assert str(selectors.STRANGERS) in page
    assert not any(said in page for said in {*map(str, SAID.values())} - {str(selectors.STRANGERS)})


def test_an_alarm_stands_on_the_pages_of_leads_and_records_officers_alone(settings: Any) -> None:
    settings.CLOCK_CAN_BE_SET = True
    at = now()
    lead, officer, therapist = (signed_in(one) for one in (a_lead(), a_records_officer(), a_therapist()))
    raise_alarm("ledger.slipped_in", "A row was slipped in.", at=at, key="x")
    drain()
    all_well(at)
    assert "A row was slipped in." in page_of(lead, at)
    assert "A row was slipped in." in page_of(officer, at)
    assert "slipped" not in page_of(therapist, at)
    assert health(at)[0] == 503


def test_only_leads_and_records_officers_open_watch() -> None:
    assert signed_in(a_lead()).get("/watch/").status_code == 200
    assert signed_in(a_records_officer()).get("/watch/").status_code == 200
    assert signed_in(a_therapist()).get("/watch/").status_code == 403


def test_an_alarm_is_settled_on_the_page_with_a_word() -> None:
    raise_alarm("backup.failed", "The backup failed.", at=now(), key="backup")
    lead = signed_in(a_lead())
    (alarm,) = selectors.every_alarm(a_lead(), at=now())
    address = f"/watch/alarms/{alarm.pk}/"
    assert lead.post(address, {"text": " "}).status_code == 422
    assert lead.post(address, {"text": "The disk was full."}, follow=True).status_code == 200
    page = lead.get("/watch/").content.decode()
    assert "The disk was full." in page
    assert "Say what came of it" not in page


def test_a_good_word_is_about_what_is_watched_and_names_what_is_not(settings: Any) -> None:
    settings.CLOCK_CAN_BE_SET, settings.WATCH_LIMITS = True, REAL | {"backup": 0}
    page = page_of(signed_in(a_lead()), clock.now(), "/watch/")
    assert "All is as it should be" not in page
    assert re.search(r"Not watched here.*?<p>Last backup</p>", page, re.DOTALL)
    settings.WATCH_LIMITS = dict(REAL)
    assert "Not watched here" not in page_of(signed_in(a_lead()), clock.now(), "/watch/")


def test_every_limit_stands_on_the_page_with_what_to_do() -> None:
    page = signed_in(a_lead()).get("/watch/").content.decode()
    for one in LIMITS:
        assert str(one.title) in page
        assert one.variable in page


def test_a_look_is_one_statement_and_is_kept_for_a_few_seconds() -> None:
    with CaptureQueriesContext(
        connection,
    ) as asked:
        selectors.state()
        selectors.state()
    assert len([one for one in asked if "clinic_outboxrow" in one["sql"]]) == 1
    assert len([one for one in asked if "SAVEPOINT" not in one["sql"]]) == 1


def test_the_watch_does_not_need_the_broker(monkeypatch: pytest.MonkeyPatch, settings: Any) -> None:
    settings.CACHES = {
        "default": {"BACKEND": "django.core.cache.backends.redis.RedisCache", "LOCATION": "redis://127.0.0.1:1/0"}
    }
    settings.CLOCK_CAN_BE_SET = True
    at = now()
    all_well(at)
    assert health(at + timedelta(seconds=125))[0] == 503


@pytest.mark.parametrize(
    ("seconds", "said"),
    [
        (0, "0 seconds"),
        (1, "1 second"),
        (119, "119 seconds"),
        (120, "2 minutes"),
        (7_199, "119 minutes"),
        (7_200, "2 hours"),
        (172_799, "47 hours"),
        (172_800, "2 days"),
        (-3, "0 seconds"),
    ],
)
def test_ages_are_said_in_their_greatest_unit(seconds: float, said: str) -> None:
    assert words.age(seconds) == said
