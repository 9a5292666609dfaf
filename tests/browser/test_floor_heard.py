"""The Floor as a screen reader meets it: the tree of the page in reading order, and what is spoken as it changes."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Page, expect
from pytest_django.live_server_helper import LiveServer

from caseload.models import Episode
from clinic.staff.models import Staff
from tests.browser.floor_hands import Hand
from tests.browser.walking import inside

AT_FIRST = """
- banner:
  - link "Today"
  - paragraph:
    - link /Ines Vartholm .* born 2 Apr 1961 · prosthesis left/
  - status: all sent
- region "Knee":
  - status: "Knee: Not known yet"
  - group "I have set the knee to":
    - 'radio "Knee set to: Walking"'
    - 'radio "Knee set to: Locked"'
    - 'radio "Knee set to: Free swing"'
- main:
  - region "Start check":
    - 'heading "Start check: begins the session" [level=1]'
    - list:
      - listitem:
        - heading "Skin" [level=2]
        - group "Skin":
          - 'radio "Skin: Good"'
          - 'radio "Skin: Not good"'
      - listitem:
        - heading "Fit" [level=2]
      - listitem:
        - heading "Footwear" [level=2]
      - listitem:
        - heading "Knee" [level=2]
  - region /This session/:
    - heading /This session/ [level=2]
    - list /This session/
"""

IN_SESSION = """
- region "Knee":
  - status: "Knee: Walking: proven"
  - group "I have set the knee to":
    - 'radio "Knee set to: Walking" [checked]'
- main:
  - navigation "Skills":
    - radiogroup "1 Skill":
      - radio /Sitting down and rising/ [checked]
  - region "Attempt":
    - radiogroup "Support":
      - 'radio "Both hands on the bars next: allowed now" [checked]'
      - radio "One hand on the bars not yet"
    - radiogroup "Help":
      - 'radio "Help: Stand by" [checked]'
  - region "Advice and numbers":
    - heading /^Sitting down and rising \\d+ of 3/ [level=1]
    - status:
      - paragraph: /^A step on the way/
  - region "Result":
    - group "3 Result":
      - button "Safe not counted"
      - button "Unsafe"
      - button "Stopped"
"""


@pytest.fixture
def page(browser: Browser, live_server: LiveServer, therapist: Staff) -> Iterator[Page]:
    """The therapist's, signed in."""
    with inside(browser, live_server.url, therapist) as context:
        yield context.new_page()


def heard(page: Page, tree: str) -> None:
    """The tree of the page has these parts in this order (others may stand between)."""
    expect(page.locator("body")).to_match_aria_snapshot(tree)


def test_the_floor_as_a_screen_reader_meets_it(page: Page, ines: Episode) -> None:
    """Who and the knee first; then the start check, each step a group of its own; then the session."""
    page.goto(f"/floor/{ines.pk}/")
    heard(page, AT_FIRST)
    hand = Hand(page)
    hand.start_check()
    hand.skill("sit_stand")
    hand.support("bars_both")
    heard(page, IN_SESSION)


def test_advice_and_what_is_not_sent_are_spoken_as_they_change(page: Page, ines: Episode) -> None:
    """A warning is an alert, with what to do now; what goes well, the knee and what was recorded are statuses."""
    page.goto(f"/floor/{ines.pk}/")
    hand = Hand(page)
    hand.start_check()
    hand.skill("sit_stand")
    hand.support("none")
    warning = page.locator("[data-floor-advice]").get_by_role("alert").or_(page.locator(".advice-warn[role=alert]"))
    expect(warning.first).to_contain_text("Not yet, ")
    expect(warning.first).to_contain_text("Do now:")
    expect(page.locator('[data-result="safe"]')).to_be_disabled()
    hand.support("bars_both")
    expect(page.get_by_role("status").filter(has_text="A step on the way")).to_be_visible()
    expect(page.locator("[role=alert]").filter(has_text="Not yet, ")).to_have_count(0)
    hand.result("safe")
    expect(page.get_by_role("status").filter(has_text="Recorded: Sitting down and rising, safe.")).to_have_count(1)
    expect(page.get_by_role("status").filter(has_text="sent")).to_have_count(1)
    hand.set_mode("locked")
    expect(page.get_by_role("status").filter(has_text="Knee: Locked: only set")).to_have_count(1)
