"""What names somebody's alert leads to its card among all that wait: the gravest of theirs, on the first page."""

from __future__ import annotations

import html
import re
from collections.abc import Callable
from typing import Any

import pytest
from django.test import Client

from caseload.models import Episode
from checklists.alerts.models import Alert
from checklists.alerts.ways import way_to
from checklists.record.verdict import Raised
from clinic.models import Staff
from tests.makers import (
    a_check,
    a_lead,
    a_therapist,
    ago,
    an_assistant,
    an_attempt,
    an_entry,
    an_episode,
    imported,
    now,
    recorded,
    stamp,
)
from tests.web.pages import page
from tests.web.test_alerts_page import a_skipped_start_check
from tests.web.test_today_page import a_visit

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("at_noon")]
Enter = Callable[..., Client]
MIXED = ("minor", "critical", "major")


def alone(by: Staff, episode: Episode) -> str:
    """Something critical, before all else: an attempt alone without a sign-off. Its id."""
    attempt = an_attempt("sit_stand", "none", help="alone", at=ago(minutes=30), by=by)
    imported(by, episode, attempt)
    return str(attempt["id"])


def way(entry: object) -> str:
    return f"/alerts/?first={entry}#act-{entry}"


def cards(browser: Client, address: str) -> list[str]:
    """The acts on a page, in order."""
    return re.findall(r'<article[^>]* id="act-([0-9a-f-]{36})"', page(browser, address.split("#")[0]))


def test_the_persons_page_and_today_lead_to_the_gravest_of_theirs(enter: Enter, runa: Staff, ines: Episode) -> None:
    gravest = alone(runa, ines)
    a_visit(ines, runa)
    last = an_attempt("sit_stand", at=ago(minutes=5), by=runa)
    recorded(runa, ines, an_entry("session_opened", at=ago(minutes=6)), last)
    assert set(Alert.objects.filter(entry=last["id"]).values_list("severity", flat=True)) == {"major"}
    alone(runa, an_episode(assigned_to=runa))
    browser = enter(runa)
    for address in (f"/people/{ines.pk}/", "/"):
        assert f'<a href="{way(gravest)}">2 alerts to answer</a>' in page(browser, address), address


def test_of_equals_they_lead_to_the_last_known(enter: Enter, runa: Staff, ines: Episode) -> None:
    first = alone(runa, ines)
    Alert.objects.filter(entry=first).update(known_at=ago(minutes=20))
    last = alone(runa, ines)
    assert f'<a href="{way(last)}">2 alerts to answer</a>' in page(enter(runa), f"/people/{ines.pk}/")


def test_the_card_stands_on_the_first_page_however_many_wait_before_it(enter: Enter, runa: Staff) -> None:
    ours = a_skipped_start_check(runa, an_episode(assigned_to=runa))
    Alert.objects.filter(entry=ours).update(known_at=ago(days=3))
    others, browser = many_at_once_before(runa, 61), enter(runa)
    assert str(ours) not in cards(browser, "/alerts/")
    shown = cards(browser, way(ours))
    assert (str(ours) in shown, len(shown)) == (True, 30)
    second = older(browser, way(ours))
    rest = cards(browser, second)
    assert str(ours) not in rest, "it comes first once, and then where it stands"
    assert {*shown, *rest, *cards(browser, older(browser, second))} == {*others, str(ours)}, "none is left out for it"


def older(browser: Client, address: str) -> str:
    """The address of the page after it."""
    found = re.search(r'href="([^"]*before=[^"]*)"', page(browser, address.split("#")[0]))
    assert found
    return "/alerts/" + html.unescape(found[1]).removeprefix("/alerts/")


def many_at_once_before(by: Staff, count: int) -> set[str]:
    Alert.objects.update(known_at=ago(days=3))
    batch = [an_attempt("sit_stand", "none", help="alone", at=ago(minutes=9, seconds=n)) for n in range(count)]
    recorded(by, an_episode(assigned_to=by), *batch)
    return {str(one["id"]) for one in batch}


@pytest.mark.parametrize("sent", ["", "nobody", "0", "00000000-0000-0000-0000-000000000000"])
def test_an_address_that_names_none_shows_what_waits(enter: Enter, runa: Staff, ines: Episode, sent: str) -> None:
    entry = alone(runa, ines)
    assert cards(enter(runa), f"/alerts/?first={sent}") == [entry]


def test_it_shows_nobody_an_alert_that_is_not_theirs_to_see(enter: Enter, runa: Staff, ines: Episode) -> None:
    entry, stranger = alone(runa, ines), enter(a_therapist())
    seen = cards(stranger, "/alerts/")
    assert cards(stranger, way(entry)) == seen


def test_the_line_about_critical_alerts_leads_to_whom_it_names_first(enter: Enter, runa: Staff, ines: Episode) -> None:
    other = an_episode(assigned_to=runa)
    alone(runa, other)
    locked: dict[str, Any] = an_entry("mode_set", mode="locked", at=ago(minutes=2))
    tried = an_attempt("stand_load")
    recorded(runa, ines, {**a_check(), "at": stamp(ago(minutes=3))}, locked, tried)
    seen = page(enter(a_lead()), "/")
    assert "2 critical alerts.</b> Ines Vartholm" in seen
    assert f'href="{way(tried["id"])}"' in seen


def test_of_several_that_came_of_one_deed_the_way_leads_to_the_gravest() -> None:
    came = [Raised("r", name, severity, "", "", now()) for name, severity in zip("abc", MIXED, strict=True)]
    assert way_to(came) == way("b")


def test_at_the_end_of_the_day_whoever_answers_none_is_led_to_the_card(
    enter: Enter, runa: Staff, ines: Episode
) -> None:
    a_visit(ines, runa)
    entry = alone(runa, ines)
    assert f'href="{way(entry)}"' in page(enter(an_assistant(site=ines.site)), "/day-end/")
