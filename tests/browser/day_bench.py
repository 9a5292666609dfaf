"""The whole day at the bench: what the prosthetist sees before a change, and records."""

from __future__ import annotations

from playwright.sync_api import Page, expect

from tests.browser.day_people import NAME


def registers_the_prosthesis(page: Page) -> None:
    """Whoever is new here stands on the Bench until their prosthesis is in the register."""
    page.get_by_role("region", name="No prosthesis registered yet").get_by_role("link", name=NAME).click()
    page.get_by_label("left", exact=True).check()
    page.get_by_label("Label").fill("Day leg")
    page.get_by_role("button", name="Register").click()
    page.get_by_label("Knee", exact=True).fill("Day knee")
    page.get_by_role("button", name="Fit the knee").click()
    expect(page.get_by_text("Day knee is in the register")).to_be_visible()
    page.get_by_role("link", name="Bench", exact=True).click()


def changes_the_resistance(page: Page) -> None:
    """The request, seen; what the change sets back, before it is made; the change."""
    page.get_by_role("region", name="Requests").get_by_role("link", name=NAME).click()
    page.get_by_role("button", name="I will see to it").click()
    expect(page.get_by_text("will be seen to (Ebo Lanterne)")).to_be_visible()
    heading = page.get_by_role("heading", name="A change of stance-flexion resistance will set")
    expect(heading).to_contain_text("1 to be proven again")
    row = page.get_by_role("row", name="Full weight, knee bending signed off")
    expect(row).to_contain_text("signed off")
    expect(row).to_contain_text("suspended")
    page.get_by_role("radio", name="4", exact=True).check()
    page.get_by_role("button", name="Record the change, set").click()
    expect(page.get_by_text("1 skill to be proven again")).to_be_visible()
