"""The trail: what the records officer reads, filters and takes out; and that nothing can be changed."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from uuid import uuid4

import psycopg
import pytest
from django.db import ProgrammingError, connection
from django.test import Client

from clinic.audit import trail
from clinic.audit.selectors import PAGE
from clinic.models import Staff, TrailRow
from tests.makers import a_lead, a_prosthetist, a_records_officer, a_therapist, an_assistant, now

pytestmark = pytest.mark.django_db
Enter = Callable[..., Client]


def a_row(actor: Staff | None, verb: str = "person.opened", subject_id: object = "AR-1", **more: object) -> TrailRow:
    """A row of the trail."""
    trail.record(actor, verb, "person", subject_id, at=more.pop("at", now()), **more)  # type: ignore[arg-type]  # passed on as it came
    return TrailRow.objects.latest("number")


def marks(page: str) -> list[str]:
    """The subjects of the rows on a page, newest first."""
    return re.findall(r'<span class="id">(AR-[\w-]+)</span>', page)


def look(browser: Client, **wanted: object) -> list[str]:
    asked = {name: str(value) for name, value in wanted.items()}
    return marks(browser.get("/trail/", asked).content.decode())


def test_rows_are_shown_newest_first(enter: Enter) -> None:
    for number in range(3):
        a_row(a_therapist(), subject_id=f"AR-{number}")
    assert look(enter(a_records_officer())) == ["AR-2", "AR-1", "AR-0"]


def test_filter_by_actor_verb_subject_and_episode(enter: Enter) -> None:
    one, other, episode = a_therapist(), a_therapist(), uuid4()
    a_row(one, subject_id="AR-one")
    a_row(other, verb="person.printed", subject_id="AR-printed", episode=episode)
    browser = enter(a_records_officer())
    assert look(browser, actor=one.pk) == ["AR-one"]
    assert look(browser, verb="person.printed") == ["AR-printed"]
    assert look(browser, about="AR-one") == ["AR-one"]
    assert look(browser, about=episode) == ["AR-printed"]
    assert look(browser, about="no such thing") == []


def test_the_reference_of_an_episode_stands_for_all_that_is_about_it(enter: Enter) -> None:
    episode, therapist = uuid4(), a_therapist()
    trail.record(therapist, "episode.opened", "episode", "AR-E7", at=now(), episode=episode)
    a_row(therapist, subject_id="AR-visit", episode=episode)
    a_row(therapist, subject_id="AR-other")
    assert look(enter(a_records_officer()), about="AR-E7") == ["AR-visit", "AR-E7"]


def test_the_number_of_a_person_finds_what_names_it(enter: Enter) -> None:
    a_row(a_therapist(), subject_id="AR-row", detail={"number": "P-77"})
    assert look(enter(a_records_officer()), about="P-77") == ["AR-row"]


def test_the_number_of_a_person_stands_for_all_of_their_episodes(enter: Enter) -> None:
    episode, therapist = uuid4(), a_therapist()
    detail = {"number": "P-78"}
    trail.record(therapist, "episode.opened", "episode", "AR-E8", at=now(), episode=episode, detail=detail)
    a_row(therapist, subject_id="AR-visit", episode=episode)
    a_row(therapist, subject_id="AR-other")
    assert look(enter(a_records_officer()), about="P-78") == ["AR-visit", "AR-E8"]


def test_days_are_whole_days_where_the_clocks_of_the_site_stand(enter: Enter) -> None:
    therapist = a_therapist()
    a_row(therapist, subject_id="AR-late", at=datetime(2026, 7, 1, 22, 59, 59, tzinfo=UTC))  # 23:59:59 in London
    a_row(therapist, subject_id="AR-next", at=datetime(2026, 7, 1, 23, 0, tzinfo=UTC))  # midnight in London
    browser = enter(a_records_officer())
    assert look(browser, first="2026-07-01", last="2026-07-01") == ["AR-late"]
    assert look(browser, first="2026-07-02", last="2026-07-02") == ["AR-next"]


def test_a_day_that_is_none_is_said_and_nothing_breaks(enter: Enter) -> None:
    a_row(a_therapist())
    answer = enter(a_records_officer()).get("/trail/", {"first": "yesterday", "actor": "somebody", "before": "x"})
    assert answer.status_code == 200
    assert "Enter a valid date" in answer.content.decode()


def test_pages_follow_a_cursor_that_new_rows_do_not_shift(enter: Enter) -> None:
    therapist = a_therapist()
    for number in range(PAGE + 5):
        a_row(therapist, subject_id=f"AR-{number}")
    browser = enter(a_records_officer())
    first = browser.get("/trail/", {"verb": "person.opened"}).content.decode()
    older = re.search(r'href="(\?[^"]*before=\d+[^"]*)"', first)
    assert older is not None
    a_row(therapist, subject_id="AR-new")
    second = browser.get("/trail/" + older[1].replace("&amp;", "&")).content.decode()
    assert marks(first) + marks(second) == [f"AR-{number}" for number in reversed(range(PAGE + 5))]


def test_taking_it_out_gives_what_was_asked_for_and_leaves_a_row(enter: Enter) -> None:
    officer, therapist = a_records_officer(), a_therapist()
    a_row(therapist, subject_id="AR-1")
    a_row(therapist, verb="person.printed", subject_id="AR-2")
    answer = enter(officer).post("/trail/export/?verb=person.printed")
    lines = list(csv.DictReader(io.StringIO(b"".join(answer.streaming_content).decode())))  # type: ignore[attr-defined]  # a streamed answer
    assert [(line["subject_id"], line["actor"]) for line in lines] == [("AR-2", therapist.reference)]
    row = TrailRow.objects.get(verb="trail.exported")
    assert (row.actor, row.detail["filter"]["verb"]) == (officer, "person.printed")


def test_a_spreadsheet_reads_no_formula_out_of_it(enter: Enter) -> None:
    a_row(a_therapist(), subject_id="=1+1")
    answer = enter(a_records_officer()).post("/trail/export/")
    assert "'=1+1" in b"".join(answer.streaming_content).decode()  # type: ignore[attr-defined]  # a streamed answer


def test_taking_it_out_by_a_mere_link_is_refused(enter: Enter) -> None:
    assert enter(a_records_officer()).get("/trail/export/").status_code == 405


@pytest.mark.parametrize("maker", [a_lead, a_therapist, a_prosthetist, an_assistant])
def test_nobody_but_the_records_officer_reads_it(enter: Enter, maker: Callable[..., Staff]) -> None:
    browser = enter(maker())
    assert browser.get("/trail/").status_code == 403
    assert browser.post("/trail/export/").status_code == 403


@pytest.mark.parametrize("statement", ["UPDATE clinic_trailrow SET verb = 'x'", "DELETE FROM clinic_trailrow"])
def test_the_programme_itself_cannot_change_a_row(statement: str) -> None:
    a_row(a_therapist())
    with connection.cursor() as cursor, pytest.raises(ProgrammingError, match="permission denied"):
        cursor.execute(statement)


def test_not_even_the_owner_changes_a_row_by_accident(owner: psycopg.Connection) -> None:
    owner.execute(
        "INSERT INTO clinic_trailrow (at, verb, subject, subject_id, origin, detail_text, leaf, mac)"
        " VALUES (now(), 'a.b', 's', '1', 'command', '{}', sha256(''), sha256(''))"
    )
    with pytest.raises(psycopg.errors.InsufficientPrivilege, match="append-only"):
        owner.execute("UPDATE clinic_trailrow SET verb = 'x'")
    owner.rollback()


def test_an_instant_is_shown_where_the_clocks_of_the_site_stand(enter: Enter) -> None:
    a_row(a_therapist(), at=datetime(2026, 7, 1, 12, 0, tzinfo=UTC) + timedelta())
    assert "1 Jul 2026, 13:00" in enter(a_records_officer()).get("/trail/").content.decode()
