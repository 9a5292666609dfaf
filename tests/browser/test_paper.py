"""The sheets of a day without power as they come out of the printer, and the page on which they are entered."""

from __future__ import annotations

import re
from collections.abc import Callable

import pytest
from playwright.sync_api import Page, expect

from caseload.models import Episode, Visit
from checklists.models import Entry
from clinic.staff.models import Staff
from tests.browser.looking import in_both_schemes
from tests.makers import (
    a_fall,
    a_person,
    a_prosthetist,
    a_therapist,
    ago,
    an_attempt,
    an_entry,
    an_episode,
    imported,
    now,
    recorded,
)

Enter = Callable[..., Page]
SIZES = {"A4": (595, 842), "Letter": (612, 792)}  # points


def comes_today(episode: Episode, staff: Staff) -> Episode:
    Visit.objects.create(episode=episode, site=episode.site, staff=staff, starts_at=now(), minutes=45)
    return episode


@pytest.fixture
def runa() -> Staff:
    """A therapist with a day of those whose sheets are longest: nobody has anything signed off yet."""
    runa, ebo = a_therapist(name="Runa Achterling"), a_prosthetist()
    a_beginner = comes_today(an_episode(assigned_to=runa, person=a_person(family_name="Vartholm")), runa)
    changed = [
        an_entry("setting_changed", by=ebo, at=ago(days=3), setting=setting, to="as asked for by the therapist")
        for setting in ("resistance", "alignment", "socket", "foot", "footwear")
    ]
    imported(runa, a_beginner, *changed, an_attempt("stand_load", by=runa, at=ago(days=2)))
    two = comes_today(an_episode(assigned_to=runa, side="both"), runa)
    recorded(runa, two, an_entry("mode_set", mode="locked", knee="left"))
    recorded(runa, two, an_entry("mode_set", mode="free_swing", knee="right", support="bars_both"))
    fell = comes_today(an_episode(assigned_to=runa, features=["yielding"]), runa)
    recorded(runa, fell, a_fall(), a_fall(at=ago(hours=3), skill="stand_load"))
    return runa


def pages(pdf: bytes) -> list[tuple[int, int]]:
    """The size in points of each page of a PDF, as the browser writes it (one object a page, uncompressed)."""
    boxes = re.findall(rb"/Type /Page\b.*?/MediaBox \[0 0 ([\d.]+) ([\d.]+)\]", pdf, re.DOTALL)
    return [(round(float(width)), round(float(height))) for width, height in boxes]


@pytest.mark.parametrize("size", SIZES)
def test_each_person_is_one_page_of_either_paper(enter: Enter, runa: Staff, size: str) -> None:
    page = enter(runa, "/paper/")
    assert page.locator("article.paper").count() == 3
    pdf = page.pdf(format=size)
    page.emulate_media(media="print")
    page.set_viewport_size({"width": 726 if size == "A4" else 748, "height": 988})
    heights = page.locator("article.paper").evaluate_all("all => all.map(one => one.offsetHeight)")
    assert pdf.count(b"/Type /Page\n") == 3, heights
    assert [one[1] for one in pages(pdf)] == pytest.approx([SIZES[size][1]] * 3, abs=1)


def test_no_barrier_stands_on_either_page(enter: Enter, runa: Staff) -> None:
    episode = Episode.objects.filter(side="left")[0]
    page = enter(runa)
    for address in ("/paper/", f"/people/{episode.pk}/paper/enter/"):
        page.goto(address)
        assert in_both_schemes(page) == [], address


def test_one_more_row_shows_the_fields_of_what_it_is_said_to_be(enter: Enter, runa: Staff) -> None:
    page = enter(runa, f"/people/{Episode.objects.filter(side='left')[0].pk}/paper/enter/")
    page.get_by_role("button", name="More rows").click()
    row = page.get_by_role("group", name="Another row").first
    expect(row.get_by_label("Help", exact=True)).to_be_visible()
    row.get_by_label("What", exact=True).select_option("Free swing on")
    expect(row.get_by_label("Help", exact=True)).to_be_hidden()
    expect(row.get_by_role("group", name="seated").get_by_label("empty: not done")).to_be_visible()
    expect(row.get_by_role("group", name="skin", include_hidden=True)).to_have_count(1)
    expect(row.get_by_role("group", name="skin")).to_have_count(0)


def test_a_sheet_is_entered_and_pressing_again_adds_nothing(enter: Enter, runa: Staff) -> None:
    episode = Episode.objects.filter(side="left")[0]
    page = enter(runa, "/")
    page.get_by_role("link", name="Sheets for a day without power").click()
    page.get_by_role("link", name="Enter this sheet afterwards").first.click()
    row = page.get_by_role("group", name="Attempt").first
    row.get_by_label("Time").fill("00:00")
    page.get_by_role("button", name="Record these rows").click()
    expect(page.get_by_text("Say which skill was tried.")).to_be_visible()
    for label, option in (("Skill", "Quiet standing"), ("Support", "both hands on the bars"), ("Help", "stand by")):
        row.get_by_label(label, exact=True).select_option(option)
    row.get_by_label("Result").select_option("safe")
    page.get_by_role("button", name="Record these rows").click()
    expect(page.get_by_text("Row 4: recorded", exact=False)).to_be_visible()
    page.get_by_role("button", name="Record these rows").click()
    expect(page.get_by_text("recorded before", exact=True)).to_be_visible()
    assert Entry.objects.filter(kind="attempt", at__date__gte=ago(days=1).date()).count() == 1
    assert episode.pk is not None
