"""Every role walks every way of its navigation: each page opens, has no barriers, and breaks nothing on the console."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from playwright.sync_api import Page, expect

from clinic.staff.roles import Role
from tests.browser.looking import barriers
from tests.makers import a_check, a_site, a_staff, a_therapist, ago, an_attempt, an_entry, an_episode, recorded

Enter = Callable[..., Page]
WAYS = {
    Role.CLINIC_LEAD: ["Caseload", "Today", "People", "Alerts", "Staff", "Retention", "Protocol", "Server"],
    Role.THERAPIST: ["Today", "People", "Alerts", "Protocol"],
    Role.PROSTHETIST: ["Bench", "People", "Alerts", "Protocol"],
    Role.ASSISTANT: ["Today", "People", "Alerts", "Protocol"],
    Role.RECORDS_OFFICER: ["Trail", "Retention", "Proof", "Protocol", "Server"],
}


@pytest.mark.parametrize(
    ("role", "size", "colours"),
    [(role, "tablet", "light") for role in WAYS]
    + [
        (Role.CLINIC_LEAD, "tablet upright", "dark"),
        (Role.PROSTHETIST, "desk", "dark"),
    ],
)
def test_each_role_walks_its_ways(enter: Enter, role: Role, size: str, colours: str) -> None:
    actor = a_staff(role, site=a_site())
    therapist = actor if role == Role.THERAPIST else a_therapist(site=actor.site)
    episode = an_episode(assigned_to=therapist)
    session = [an_entry("session_opened", at=ago(minutes=9)), a_check(at=ago(minutes=8))]
    recorded(therapist, episode, *session, an_attempt("even_walk", "stick", at=ago(minutes=5)))
    page = enter(actor, size=size, color_scheme=colours)
    found = page.locator(".plate nav a").all_inner_texts()
    assert [words.split("\n")[0].split(" ")[0] for words in found] == WAYS[role]
    for way in WAYS[role]:
        page.locator(".plate nav a", has_text=way).click()
        expect(page.locator(".plate nav a[aria-current=page]")).to_contain_text(way)
        assert barriers(page) == [], way
