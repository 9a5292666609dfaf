"""A sheet is a session: with it somebody came, and whoever comes back to the bars begins with a start check again."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from django.test import Client

from caseload.models import Episode, Visit
from checklists.models import Entry
from clinic import clock
from clinic.staff.models import Staff
from tests.makers import a_check, an_attempt, an_entry, recorded
from tests.web.pages import page as page_at
from tests.web.test_paper_entered import ATTEMPT, START, checked, kinds, sent, sheet

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("at_noon")]
Enter = Callable[[Staff], Client]
END = checked("end_of_session")
WHOLE = ["session_opened", "check", "attempt", "check", "session_closed"]


def today(episode: Episode) -> str:
    return clock.local_day(clock.now(), episode.site.time_zone).isoformat()


def at(episode: Episode, time: str) -> datetime:
    """That time of today by the clocks of the site."""
    return datetime.fromisoformat(f"{today(episode)}T{time}").replace(tzinfo=ZoneInfo(episode.site.time_zone))


def entered(client: Client, episode: Episode, *rows: dict[str, Any]) -> Any:
    return sent(client, episode, sheet(episode, *rows, day=today(episode)))


def session_times(episode: Episode) -> list[str]:
    zone = ZoneInfo(episode.site.time_zone)
    found = Entry.objects.filter(episode=episode, kind__in=("session_opened", "session_closed")).order_by("at", "kind")
    return [f"{fact.kind.removeprefix('session_')} {fact.at.astimezone(zone):%H:%M}" for fact in found]


def test_whoever_comes_back_after_a_whole_sheet_begins_with_the_start_check(
    enter: Enter, runa: Staff, ines: Episode
) -> None:
    page = entered(enter(runa), ines, START, ATTEMPT, END)
    assert kinds(ines) == WHOLE
    assert any("Start check: skin, fit, footwear, knee mode" in line for line in page.check_first)
    raised = recorded(runa, ines, an_attempt("stand_load", at=at(ines, "11:30"))).raised
    assert "start_check" in {alert.rule for alert in raised}


def test_with_a_sheet_somebody_came(enter: Enter, runa: Staff, ines: Episode) -> None:
    visit = Visit.objects.create(episode=ines, site=ines.site, staff=runa, starts_at=at(ines, "10:05"))
    client = enter(runa)
    assert 'data-part="visits"' in page_at(client, "/day-end/")
    entered(client, ines, START, ATTEMPT, END)
    visit.refresh_from_db()
    assert visit.state == "came"
    assert 'data-part="visits"' not in page_at(client, "/day-end/")


def test_the_page_says_which_session_was_recorded_and_the_same_sheet_adds_none(
    enter: Enter, runa: Staff, ines: Episode
) -> None:
    client, data = enter(runa), sheet(ines, START, ATTEMPT, END, day=today(ines))
    page = sent(client, ines, data)
    assert page.session == "They stand as one session, opened at 10:00 and closed at 10:02."
    assert page.counts == {"recorded": 3}, "rows, and no more than were typed"
    assert sent(client, ines, data).session == ""
    assert session_times(ines) == ["opened 10:00", "closed 10:02"]


def test_a_sheet_without_an_end_check_closes_nothing_until_it_is_entered(
    enter: Enter, runa: Staff, ines: Episode
) -> None:
    client, data = enter(runa), sheet(ines, START, ATTEMPT, {}, day=today(ines))
    assert sent(client, ines, data).session.endswith("opened at 10:00 and not closed: no end check was entered.")
    assert session_times(ines) == ["opened 10:00"]
    more = sheet(ines, {}, {}, END, day=today(ines))
    data |= {name: value for name, value in more.items() if name.startswith("row2-")}
    assert sent(client, ines, data).session == "The session that was open is closed at 10:02."
    assert session_times(ines) == ["opened 10:00", "closed 10:02"]


def test_what_happened_within_a_session_of_the_floor_is_of_that_session(
    enter: Enter, runa: Staff, ines: Episode
) -> None:
    recorded(
        runa,
        ines,
        an_entry("session_opened", at=at(ines, "09:50")),
        a_check(at=at(ines, "09:51")),
        a_check("end_of_session", at=at(ines, "10:30")),
        an_entry("session_closed", at=at(ines, "10:31")),
    )
    assert entered(enter(runa), ines, START, ATTEMPT, END).session == ""
    assert session_times(ines) == ["opened 09:50", "closed 10:31"]


def test_a_session_that_the_floor_left_open_is_closed_by_the_end_check_on_paper(
    enter: Enter, runa: Staff, ines: Episode
) -> None:
    recorded(runa, ines, an_entry("session_opened", at=at(ines, "09:50")), a_check(at=at(ines, "09:51")))
    entered(enter(runa), ines, ATTEMPT, END)
    assert session_times(ines) == ["opened 09:50", "closed 10:01"]


def test_a_check_alone_that_is_entered_late_makes_no_session(enter: Enter, runa: Staff, ines: Episode) -> None:
    opened, closed = at(ines, "10:01"), at(ines, "10:30")
    recorded(
        runa, ines, an_entry("session_opened", at=opened), an_attempt("stand_load", at=opened + timedelta(minutes=9))
    )
    recorded(runa, ines, an_entry("session_closed", at=closed))
    entered(enter(runa), ines, START)
    entered(enter(runa), ines, {**END, "time": "10:40"})
    assert session_times(ines) == ["opened 10:01", "closed 10:30"]


def test_the_session_closes_with_the_last_row_wherever_it_stands(enter: Enter, runa: Staff, ines: Episode) -> None:
    entered(enter(runa), ines, START, {**ATTEMPT, "time": "10:20"}, {**END, "time": "10:15"})
    assert session_times(ines) == ["opened 10:00", "closed 10:20"]
