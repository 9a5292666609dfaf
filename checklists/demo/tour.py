"""The pictures of README.md's tour, taken anew from the running demo in a real browser."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from playwright.sync_api import Browser, Page, StorageState

from checklists.demo.cast import PASSWORD
from checklists.demo.situations import SITUATIONS
from clinic.run import chromium

TABLET, UPRIGHT, DESK = (1280, 800), (800, 1280), (1440, 900)


@dataclass(frozen=True, slots=True)
class Picture:
    """One picture: whose eyes, which page. `person`: a situation of the demo, whose page is found by name."""

    name: str
    username: str
    address: str
    person: str = ""
    size: tuple[int, int] = DESK
    dark: bool = False
    whole: bool = False


PICTURES = (
    Picture("today", "runa", "/"),
    Picture("today-dark", "runa", "/", dark=True),
    Picture("person", "runa", "/people/{id}/", person="lapsed", whole=True),
    Picture("cleared", "runa", "/people/{id}/cleared/", person="lapsed", whole=True),
    Picture("floor", "runa", "/floor/{id}/", person="ready_to_sign", size=TABLET),
    Picture("floor-lock-unproven", "runa", "/floor/{id}/", person="lock_unproven", size=TABLET),
    Picture("floor-two-knees", "runa", "/floor/{id}/", person="two_prostheses", size=UPRIGHT),
    Picture("sign-off", "runa", "/people/{id}/sign-off/{ready}/", person="ready_to_sign"),
    Picture("alerts", "marit", "/alerts/"),
    Picture("caseload", "marit", "/caseload/", whole=True),
    Picture("staff", "marit", "/staff/"),
    Picture("bench", "ebo", "/bench/"),
    Picture("trail", "fenna", "/trail/"),
)


def take(address: str, folder: Path) -> Iterator[str]:
    """Take every picture of the demo at an address into a folder; yields the name of each as it is done."""
    folder.mkdir(parents=True, exist_ok=True)
    with chromium.opened() as browser:
        seen: dict[str, StorageState] = {}
        for picture in PICTURES:
            if picture.username not in seen:  # a code opens once: nobody signs in for each picture
                seen[picture.username] = _signed_in(browser, address, picture.username)
            _take_one(browser, address, picture, folder / f"{picture.name}.png", seen[picture.username])
            yield picture.name


def _signed_in(browser: Browser, address: str, username: str) -> StorageState:
    """What a browser keeps of somebody who has come in."""
    context = browser.new_context(base_url=address, locale="en-GB")
    page = context.new_page()
    page.goto("/sign-in/")
    page.fill("[name=username]", username)
    page.fill("[name=password]", PASSWORD)
    page.press("[name=password]", "Enter")
    page.wait_for_url("**/sign-in/second/")
    said = page.locator(".field-help").inner_text()  # the demo says the code there
    page.fill("[name=one_time_code]", said.rpartition(" ")[2])
    page.press("[name=one_time_code]", "Enter")
    page.wait_for_url(lambda url: "/sign-in/" not in url)
    state = context.storage_state()
    context.close()
    return state


def _take_one(browser: Browser, address: str, picture: Picture, file: Path, state: StorageState) -> None:
    width, height = picture.size
    context = browser.new_context(
        base_url=address,
        locale="en-GB",
        viewport={"width": width, "height": height},
        color_scheme="dark" if picture.dark else "light",
        reduced_motion="reduce",
        storage_state=state,
    )
    page = context.new_page()
    page.goto(_address(page, picture))
    page.wait_for_load_state("networkidle")
    page.screenshot(path=file, full_page=picture.whole)
    context.close()


def _address(page: Page, picture: Picture) -> str:
    """The address with the person's id in it, found as a person would: by looking the name up."""
    if not picture.person:
        return picture.address
    page.goto("/people/")
    page.get_by_label("Name, number").fill(SITUATIONS[picture.person].person)
    with page.expect_navigation():
        page.get_by_role("button", name="Find").click()
    links = page.eval_on_selector_all("main ol a[href]", "links => links.map(link => link.getAttribute('href'))")
    found = next(match for link in links if (match := re.search(r"/people/([0-9a-f-]{36})/", link)))[1]
    if "{ready}" not in picture.address:
        return picture.address.format(id=found)
    page.goto("/")
    waits = f"a[href*='/people/{found}/sign-off/']"
    return str(page.eval_on_selector_all(waits, "links => links.map(link => link.getAttribute('href'))")[0])
