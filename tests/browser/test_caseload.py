"""Caseload, Bench and plans in a real browser: the lead's and the prosthetist's part of a day, without barriers."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import timedelta

from playwright.sync_api import Page, expect

from caseload.models import Cover, Episode, Referral
from tests.browser.caseload_scene import Scene, a_busy_morning
from tests.browser.looking import barriers, wider_than_the_screen
from tests.makers import a_cover, a_lead, a_person, a_therapist, ago, an_entry, an_episode, now, recorded

Enter = Callable[..., Page]


def lead_pages(scene: Scene) -> list[str]:
    waiting = Referral.objects.get(person__given_name="Sunniva").pk
    return [
        "/caseload/",
        f"/caseload/referrals/{waiting}/assign/",
        "/caseload/referrals/",
        "/caseload/referrals/known/",
        "/caseload/cover/",
        f"/caseload/cover/?away={scene.therapist.pk}",
        f"/caseload/handover/{scene.therapist.pk}/",
        f"/people/{scene.episode.pk}/plan/",
    ]


def bench_pages(scene: Scene) -> list[str]:
    key = scene.episode.pk
    return [
        "/bench/",
        f"/bench/{key}/requests/{scene.request.pk}/",
        f"/bench/{key}/?setting=knee",
    ]


def therapist_pages(scene: Scene) -> list[str]:
    forms = ("", "visits/", "requests/")
    return [f"/people/{scene.episode.pk}/plan/{form}" for form in forms]


def walk(page: Page, addresses: list[str]) -> list[str]:
    """What axe finds on each page, and whether any is wider than its screen."""
    found = []
    for address in addresses:
        page.goto(address)
        found += [f"{address}: {fault}" for fault in barriers(page)]
        found += [f"{address}: wider than {size}" for size in wider_than_the_screen(page, "tablet", "tablet upright")]
    return found


def test_no_barriers_on_the_pages_of_lead_bench_and_plan(enter: Enter) -> None:
    scene = a_busy_morning()
    found = []
    for staff, pages in (
        (scene.lead, lead_pages(scene)),
        (scene.bench, bench_pages(scene)),
        (scene.therapist, therapist_pages(scene)),
    ):
        found += walk(enter(staff, size="tablet upright", color_scheme="dark"), pages)
    assert found == []


def test_the_lead_assigns_who_waits_by_keyboard_and_the_therapist_has_them(enter: Enter) -> None:
    scene = a_busy_morning()
    page = enter(scene.lead, "/caseload/", size="desk")
    page.get_by_role("link", name="Assign Sunniva Kettleby").press("Enter")
    expect(page.get_by_role("heading", name="Assign Sunniva Kettleby")).to_be_visible()
    page.get_by_role("radio", name="Jonas Wexthorn").press("Space")
    page.get_by_role("button", name="Assign and open the episode").press("Enter")
    expect(page.get_by_text("Sunniva Kettleby is with ")).to_be_visible()
    expect(page.get_by_role("link", name="Assign Sunniva Kettleby")).to_have_count(0)
    theirs = enter(scene.therapist, "/people/")
    expect(theirs.get_by_text("Sunniva Kettleby").first).to_be_visible()
    assert Episode.objects.filter(person__given_name="Sunniva", features=["free_swing", "lock", "yielding"]).exists()


def test_the_lead_sees_load_and_papers_of_each_before_choosing(enter: Enter) -> None:
    scene, waiting = a_busy_morning(), Referral.objects.get(person__given_name="Sunniva")
    page = enter(scene.lead, f"/caseload/referrals/{waiting.pk}/assign/")
    rows = page.locator(".candidate")
    expect(rows.first).to_contain_text("may teach this knee")
    expect(rows.filter(has_text="Dele Morrowby")).to_contain_text("lacks lock and free swing")
    expect(rows.filter(has_text="Dele Morrowby").get_by_role("img")).to_have_attribute(
        "aria-label", "0.7\u00a0h of 5\u00a0h carried, 2.7\u00a0h with what is added"
    )


def test_a_referral_is_taken_and_waits(enter: Enter) -> None:
    scene = a_busy_morning()
    page = enter(scene.lead, "/caseload/")
    page.get_by_role("link", name="Take a referral").click()
    for label, text in (("Given name", "Maro"), ("Family name", "Ellingswood"), ("Second identifier", "R-9")):
        page.get_by_label(label).fill(text)
    page.get_by_label("Born on").fill("1958-09-30")
    page.get_by_label("Amputation level").select_option("transfemoral")
    page.get_by_label("left", exact=True).check()
    page.get_by_label("yielding").check()
    page.get_by_label("Reason, and what they want to do again").fill("To garden again.")
    page.get_by_role("button", name="Put on the waiting list").click()
    row = page.get_by_role("row", name="Maro Ellingswood")
    expect(row).to_contain_text("0 days, routine")


def test_the_prosthetist_sees_the_price_records_the_change_and_the_therapist_sees_it(enter: Enter) -> None:
    scene = a_busy_morning()
    page = enter(scene.bench, "/bench/", size="desk")
    page.get_by_role("link", name="Tamsin Oyelledge").first.click()
    expect(
        page.get_by_role("heading", name="A change of stance-flexion resistance will set 9 skills back")
    ).to_be_visible()
    expect(page.get_by_role("row", name="Slope down signed off")).to_contain_text("suspended")
    page.get_by_role("radio", name="7").check()
    page.get_by_role("button", name="Record the change, set 9 skills back").click()
    expect(
        page.get_by_text(
            "6 skills to be proven again, 3 that rest on them. Whoever asked is told, and who leads the sessions now."
        )
    ).to_be_visible()
    expect(page.get_by_role("row", name="Resistance: 7")).to_contain_text("Ebo Lanterne")
    theirs = enter(scene.therapist, f"/people/{scene.episode.pk}/plan/")
    expect(theirs.get_by_text("answered by Ebo Lanterne")).to_be_visible()
    theirs.goto(f"/caseload/handover/{scene.therapist.pk}/")
    expect(theirs.get_by_text("Slope down (suspended)")).to_be_visible()


def test_why_a_change_was_struck_out_takes_no_column_out_of_sight(enter: Enter) -> None:
    scene = a_busy_morning()
    wrong = an_entry("setting_changed", setting="resistance", to="7", at=ago(minutes=9))
    why = "Typed 7 at the knee of somebody else, and noticed it at the next look"
    recorded(scene.bench, scene.episode, wrong, an_entry("struck_out", entry=wrong["id"], reason=why))
    page = enter(scene.bench, "/bench/", size="desk")
    for address in ("/bench/", f"/bench/{scene.episode.pk}/"):
        page.goto(address)
        struck = page.get_by_role("row").filter(has_text=why)
        expect(struck).to_contain_text("by Ebo Lanterne")
        table = struck.locator("xpath=ancestor::table/..")
        assert table.evaluate("box => box.scrollWidth - box.clientWidth") <= 0, address


def test_another_setting_shows_another_price(enter: Enter) -> None:
    scene = a_busy_morning()
    page = enter(scene.bench, f"/bench/{scene.episode.pk}/")
    page.get_by_role("link", name="Footwear").click()
    expect(page.get_by_role("heading", name="A change of footwear will set 2 skills back")).to_be_visible()


def test_what_was_typed_survives_a_refusal(enter: Enter) -> None:
    scene = a_busy_morning()
    page = enter(scene.therapist, f"/people/{scene.episode.pk}/plan/visits/")
    visit = scene.episode.visits.order_by("starts_at").first()
    assert visit is not None
    page.get_by_label("Day").fill(visit.starts_at.date().isoformat())
    page.get_by_label("Begins at").fill("16:00")
    page.get_by_label("Note").fill("Brings the new shoes.")
    page.get_by_role("button", name="Plan").click()
    expect(page.get_by_role("alert")).to_contain_text("They come on")
    expect(page.get_by_label("Note")).to_have_value("Brings the new shoes.")


def test_a_stranger_finds_nothing_at_a_persons_plan(enter: Enter) -> None:
    scene = a_busy_morning()
    page = enter(a_therapist(name="A Stranger"), f"/people/{scene.episode.pk}/plan/")
    expect(page.get_by_role("heading", name="Nothing here")).to_be_visible()
    expect(page.get_by_text("Tamsin")).to_have_count(0)


def test_an_answer_that_stands_alone_gives_way_to_another(enter: Enter) -> None:
    page = enter(a_lead(), "/caseload/referrals/")
    group = page.get_by_role("group", name="The knee has")
    expect(group.get_by_label("not known yet")).to_be_checked()
    group.get_by_label("yielding").check()
    expect(group.get_by_label("not known yet")).not_to_be_checked()
    group.get_by_label("none of these").check()
    expect(group.get_by_role("checkbox", checked=True)).to_have_count(1)


def test_who_can_stand_in_follows_the_ticks_and_neither_focus_nor_choice_is_lost(enter: Enter) -> None:
    away, lucie = a_therapist(name="Runa Achterling"), a_therapist(name="Lucie Amberwick", authorised=["lock"])
    a_therapist(name="Jonas Wexthorn")
    for given, feature in (("Ines", "free_swing"), ("Bertil", "lock"), ("Maro", "lock")):
        episode = an_episode(assigned_to=away, person=a_person(given_name=given), opened=ago(days=9))
        Episode.objects.filter(pk=episode.pk).update(features=[feature])
    page = enter(a_lead(), f"/caseload/cover/?away={away.pk}", size="tablet upright")
    row = page.locator(".candidate").filter(has_text=lucie.name)
    expect(row).to_contain_text("6\u00a0h with them")
    expect(row).to_contain_text("may not teach 1 of 3")
    page.get_by_label("From", exact=True).fill("2027-01-04")
    row.get_by_role("radio").check()
    page.get_by_role("checkbox", name="Ines").press("Space")
    expect(row).to_contain_text("4\u00a0h with them")
    expect(row).to_contain_text("may teach all 2")
    expect(row.get_by_role("img")).to_have_attribute("aria-label", re.compile("4\u00a0h with what is added"))
    expect(page.locator("#reckoned")).to_have_text("Hours and who may teach are shown for the 2 ticked of 3.")
    expect(page.get_by_role("checkbox", name="Ines")).to_be_focused()
    expect(row.get_by_role("radio")).to_be_checked()
    expect(page.get_by_label("From", exact=True)).to_have_value("2027-01-04")
    for name in ("Bertil", "Maro"):
        page.get_by_role("checkbox", name=name).press("Space")
    expect(page.locator("#reckoned")).to_contain_text("Nobody is ticked")
    expect(row).to_contain_text("6\u00a0h with them")
    page.get_by_role("checkbox", name="Ines").press("Space")
    expect(row).to_contain_text("lacks free swing")
    assert barriers(page) == []


def test_an_answer_that_is_no_page_of_candidates_takes_nothing_away(enter: Enter) -> None:
    """Signed out or broken meanwhile: what stood keeps standing, and the page says of whom it was."""
    away = a_therapist(name="Runa Achterling")
    for given in ("Ines", "Bertil"):
        an_episode(assigned_to=away, person=a_person(given_name=given), opened=ago(days=9))
    a_therapist(name="Jonas Wexthorn")
    page = enter(a_lead(), f"/caseload/cover/?away={away.pk}")
    page.route(
        "**/caseload/cover/*ticked*", lambda route: route.fulfill(body="<p>Sign in</p>", content_type="text/html")
    )
    with page.expect_response("**/caseload/cover/*ticked*"):
        page.get_by_role("checkbox", name="Ines").uncheck()
    page.wait_for_load_state("networkidle")
    expect(page.locator(".candidate").first).to_contain_text("4\u00a0h with them")
    expect(page.locator("#reckoned")).to_contain_text("the 2 ticked of 2")


def test_beside_a_tick_a_cover_is_ended_and_what_is_filled_in_is_there_again(enter: Enter) -> None:
    away, runa = a_therapist(name="Jonas Wexthorn"), a_therapist(name="Runa Achterling")
    tamsin, rhys = (an_episode(assigned_to=away, person=a_person(given_name=name)) for name in ("Tamsin", "Rhys"))
    a_cover(tamsin, a_therapist(name="Lucie Amberwick"), start=ago(days=3), end=now() + timedelta(days=9))
    page = enter(a_lead(), f"/caseload/cover/?away={away.pk}", size="tablet upright")
    assert barriers(page) == []
    row = page.locator(".candidate").filter(has_text=runa.name)
    row.get_by_role("radio").check()
    page.get_by_label("Why").fill("Leave, shared out")
    expect(page.get_by_role("checkbox", checked=True)).to_have_count(1)
    page.get_by_role("checkbox", name="Tamsin").check()
    expect(page.locator("#reckoned")).to_contain_text("the 2 ticked of 2")
    page.get_by_label("Why").press("Enter")
    expect(page.get_by_role("alert")).to_contain_text("Lucie Amberwick covers Tamsin Ashdown already")
    page.get_by_role("button", name=re.compile("End that cover first.*Tamsin")).click()
    page.get_by_role("button", name="End it now").click()
    expect(page.get_by_text("Lucie Amberwick no longer stands in for Tamsin Ashdown.")).to_be_visible()
    expect(page.get_by_role("checkbox", checked=True)).to_have_count(2)
    expect(row.get_by_role("radio")).to_be_checked()
    expect(page.get_by_label("Why")).to_have_value("Leave, shared out")
    page.get_by_role("button", name="Arrange for those ticked").click()
    expect(page.get_by_text("Runa Achterling covers Jonas Wexthorn, 2 people")).to_be_visible()
    assert Cover.objects.filter(staff=runa, episode__in=(tamsin, rhys)).count() == 2
