"""The gym's tablet in a real browser: enrolled, opened by a PIN, three taps recorded, handed over in two, locked."""

from __future__ import annotations

from playwright.sync_api import Page, expect

from caseload.models import Episode
from checklists.record.models import Entry
from clinic.models import TrailRow
from clinic.staff.models import Staff
from tests.browser.conftest import Enter, barriers
from tests.browser.floor_hands import Hand
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

    device.get_by_role("button", name="Hand over").click()  # the first tap
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
    device.get_by_role("button", name="Hand over").click()
    expect(device.get_by_role("dialog")).to_contain_text("stay on this tablet, under your name")
    device.get_by_role("button", name="Hand over all the same").click()
    expect(device.get_by_role("heading", name="Who records?")).to_be_visible()
    device.unroute("**/entries/")
    by_pin(device, "Mio Tarn")
    expect(device.locator("[data-floor-net]")).to_contain_text("of Runa Achterling wait for their sign-in")
    assert authors(ines) == []
    device.get_by_role("button", name="Hand over").click()
    with device.expect_response("**/entries/"):  # the page says "all sent" before it has looked into its queue, too
        by_pin(device, "Runa Achterling")
    expect(device.locator("[data-floor-net]")).to_contain_text("all sent")
    assert authors(ines) == ["Runa Achterling"]


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
