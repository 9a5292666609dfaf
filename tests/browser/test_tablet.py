"""The gym's tablet in a real browser: enrolled, opened by a PIN, three taps recorded, handed over in two, locked."""

from __future__ import annotations

import pytest
from playwright.sync_api import Page, expect

from caseload.models import Episode
from checklists.record.models import Entry
from clinic.models import StaffSession, TrailRow
from clinic.staff.models import Staff
from clinic.staff.session_models import Tablet
from clinic.staff.tablet.services import revoke_tablet
from tests.browser.conftest import Enter, takes_both_steps
from tests.browser.device_store import IN_STORE
from tests.browser.floor_hands import Hand
from tests.browser.looking import barriers
from tests.makers import (
    PIN,
    a_check,
    a_lead,
    a_person,
    a_pin,
    a_therapist,
    ago,
    an_assistant,
    an_attempt,
    an_enrolled_tablet,
    an_episode,
    recorded,
)


def type_pin(page: Page, pin: str) -> None:
    """By the keys on the page, as a thumb does."""
    for digit in pin:
        page.locator(".pad").get_by_role("button", name=digit, exact=True).click()


def by_pin(page: Page, name: str, pin: str = PIN) -> None:
    """From the names to the first page: the name, the digits, and in."""
    page.get_by_role("link", name=name).click()
    type_pin(page, pin)
    page.get_by_role("button", name=f"Record as {name}").click()


def an_enrolled_device(enter: Enter, lead: Staff) -> Page:
    """A lead at the desk makes a code, and types it on the tablet."""
    desk = enter(lead, "/tablets/add/", size="desk")
    desk.get_by_label("Name").fill("By the bars")
    desk.get_by_role("radio", name="Alder Reach").check()
    desk.get_by_role("button", name="Make its code").click()
    code = desk.locator(".handed dd").nth(1).inner_text()
    device = enter(None, "/tablet/enrol/")
    device.get_by_label("Code of this tablet").fill(code)
    device.get_by_role("button", name="Enrol").click()
    expect(device.get_by_role("heading", name="Who records?")).to_be_visible()
    return device


def authors(episode: Episode) -> list[str]:
    facts = Entry.objects.filter(episode=episode, kind="attempt").order_by("number")
    return list(facts.values_list("by__name", flat=True))


def test_a_tablet_from_its_code_to_a_colleague_who_takes_over(enter: Enter) -> None:
    runa = a_pin(a_therapist(name="Runa Achterling"))
    a_pin(an_assistant(name="Mio Tarn"))
    ines = an_episode(assigned_to=runa, person=a_person(given_name="Ines", family_name="Vartholm"))
    recorded(runa, ines, a_check(at=ago(hours=30)), an_attempt("don_check", "none", at=ago(hours=30)))
    device = an_enrolled_device(enter, a_lead(name="Marit Sandhollow"))
    assert barriers(device) == []

    by_pin(device, "Runa Achterling")
    device.goto(f"/floor/{ines.pk}/")
    expect(device.locator(".strip-staff")).to_contain_text("Runa Achterling")
    assert barriers(device) == []
    hand = Hand(device)
    hand.start_check()
    hand.taps = 0
    hand.skill("don_check")
    hand.support("none")
    hand.result("safe")
    assert hand.taps == 3
    hand.sent()

    device.get_by_role("button", name="Pass on this tablet").click()  # the first tap
    expect(device.get_by_role("heading", name="Who records?")).to_be_visible()
    device.get_by_role("link", name="Mio Tarn").click()  # the second
    assert barriers(device) == []
    type_pin(device, PIN)
    device.get_by_role("button", name="Record as Mio Tarn").click()
    expect(device.locator(".strip-staff")).to_contain_text("Mio Tarn")  # the same person, another name
    second = Hand(device)
    second.skill("don_check")
    second.support("none")
    second.result("safe")
    second.sent()
    assert authors(ines) == ["Runa Achterling", "Runa Achterling", "Mio Tarn"]
    assert TrailRow.objects.filter(verb="session.handed_over", actor=runa).count() == 1


def test_what_the_first_one_had_not_sent_stays_theirs(enter: Enter) -> None:
    runa = a_pin(a_therapist(name="Runa Achterling"))
    a_pin(an_assistant(name="Mio Tarn"))
    ines = an_episode(assigned_to=runa)
    device = an_enrolled_device(enter, a_lead(name="Marit Sandhollow"))
    by_pin(device, "Runa Achterling")
    device.goto(f"/floor/{ines.pk}/")
    device.route("**/entries/", lambda route: route.fulfill(status=503, body="{}"))  # the signal comes and goes
    hand = Hand(device)
    hand.start_check()
    hand.skill("don_check")
    hand.support("none")
    hand.result("safe")
    device.get_by_role("button", name="Pass on this tablet").click()
    expect(device.get_by_role("dialog")).to_contain_text("They stay on this tablet, sealed")
    device.get_by_role("button", name="Pass it on all the same").click()
    expect(device.get_by_role("heading", name="Who records?")).to_be_visible()
    device.unroute("**/entries/")
    with device.expect_response("**/api/v1/sealed/") as passed:
        by_pin(device, "Mio Tarn")
    assert {one["outcome"] for one in passed.value.json()["verdicts"]} == {"kept"}
    expect(device.locator("[data-floor-net]")).to_contain_text("all sent")
    assert authors(ines) == []
    device.get_by_role("button", name="Pass on this tablet").click()
    by_pin(device, "Runa Achterling")
    device.goto("/waiting/")
    for tick in device.get_by_role("checkbox").all():
        tick.check()
    device.get_by_role("button", name="Record what is ticked under my name").click()
    expect(device.get_by_role("main")).to_contain_text("Nothing waits for you")
    assert authors(ines) == ["Runa Achterling"]


@pytest.mark.cut_off
def test_a_revoked_tablet_empties_itself_and_keeps_what_is_sealed(enter: Enter) -> None:
    runa = a_pin(a_therapist(name="Runa Achterling"))
    ines = an_episode(assigned_to=runa)
    lead = a_lead(name="Marit Sandhollow")
    device = an_enrolled_device(enter, lead)
    by_pin(device, "Runa Achterling")
    device.goto(f"/floor/{ines.pk}/")
    device.route("**/entries/", lambda route: route.fulfill(status=503, body="{}"))
    hand = Hand(device)
    hand.start_check()
    expect(device.locator("[data-floor-net]")).to_contain_text("2 not sent")
    assert device.evaluate(IN_STORE)["keys"] == 1
    revoke_tablet(actor=lead, tablet_id=Tablet.objects.get().pk, reason="left on a bus")
    device.unroute("**/entries/")
    device.get_by_role("button", name="Send now").click()
    expect(device.get_by_role("main")).to_contain_text("A clinic lead has revoked this tablet")
    assert barriers(device) == []
    assert device.evaluate(IN_STORE) == {"keys": 0, "pages": 0, "packs": 0, "readable": 0, "sealed": 2}
    with device.expect_response("**/api/v1/sealed/") as passed:
        takes_both_steps(device, lead)
    assert {one["outcome"] for one in passed.value.json()["verdicts"]} == {"kept"}
    said = device.get_by_role("status").filter(has_text="passed on")
    expect(said).to_contain_text("2 marks of Runa Achterling passed on: they wait until Runa Achterling records them.")
    assert barriers(device) == []
    assert authors(ines) == []


def test_after_five_wrong_ones_it_is_locked_and_says_what_to_do(enter: Enter) -> None:
    a_pin(a_therapist(name="Runa Achterling"))
    device = an_enrolled_device(enter, a_lead(name="Marit Sandhollow"))
    device.get_by_role("link", name="Runa Achterling").click()
    for left in range(5):
        type_pin(device, "739165")
        device.get_by_role("button", name="Record as Runa Achterling").click()
        expect(device.get_by_role("alert")).to_contain_text("That is not the PIN" if left < 4 else "is locked on every")
    device.get_by_role("link", name="Back to the names").click()
    expect(device.get_by_role("link", name="Runa Achterling")).to_contain_text("PIN locked")


def test_a_sign_off_is_refused_by_pin_with_a_sentence(enter: Enter) -> None:
    runa = a_pin(a_therapist(name="Runa Achterling"))
    ines = an_episode(assigned_to=runa)
    device = an_enrolled_device(enter, a_lead(name="Marit Sandhollow"))
    by_pin(device, "Runa Achterling")
    device.goto(f"/people/{ines.pk}/sign-off/don_check/")
    expect(device.get_by_role("main")).to_contain_text(
        "A PIN is for recording only. Sign in with your name and password"
    )
    assert barriers(device) == []


HEAD = """() => {
  const end = document.querySelector(".plate-end").getBoundingClientRect();
  const menu = document.querySelector(".plate-menu").getBoundingClientRect();
  const pass = document.querySelector(".plate-end .hand-over").getBoundingClientRect();
  const name = document.querySelector(".plate-end .plate-who").getBoundingClientRect();
  const ways = document.querySelector(".plate nav").getBoundingClientRect();
  const inside = [menu, end].every((box) => box.left >= 0 && box.right <= innerWidth);
  return {
    inside: inside && document.documentElement.scrollWidth <= innerWidth,
    oneRow: pass.top < name.bottom && name.top < pass.bottom && pass.right <= name.left,
    beside: end.top < ways.bottom,
    atTheEnd: innerWidth - end.right < 40,
  };
}"""


@pytest.mark.parametrize("language", ["en-gb", "es"])
def test_the_header_of_a_lead_on_a_tablet_holds_and_the_menu_stays_inside(enter: Enter, language: str) -> None:
    lead = a_lead(name="Marit Sandhollow-Achterling", language=language)
    device = enter(lead)
    StaffSession.objects.filter(staff=lead).update(tablet=an_enrolled_tablet().tablet)
    for width, height in ((1280, 800), (800, 1280)):
        device.set_viewport_size({"width": width, "height": height})
        device.goto("/tablets/")
        device.locator(".plate-who > summary").click()
        head = device.evaluate(HEAD)
        assert head == {"inside": True, "oneRow": True, "beside": width == 1280, "atTheEnd": True}, (width, head)
