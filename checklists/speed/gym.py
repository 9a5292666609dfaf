"""`floor_tap` and `floor_start`: the Floor in a browser, on a processor four times slower, with a record of a year.

The clinic's own web process serves it. Started is from the device's store: the server is stopped before. The floor of
the start is the page that the same worker shows, off line too, for what is not on the device.
"""

from __future__ import annotations

from dataclasses import dataclass
from importlib.util import find_spec
from statistics import median
from typing import TYPE_CHECKING, Any

from django.contrib.auth.hashers import make_password

from caseload.models import Episode
from checklists.speed import taps
from clinic.run import chromium, machine
from clinic.run.served import served
from clinic.staff.models import Staff

if TYPE_CHECKING:
    from playwright.sync_api import BrowserContext, Page

PROMISED_MS = 1_500.0
PASSWORD = "the same word in every run"  # noqa: S105 - of a database that is thrown away
LOOKS = 600  # ten in a second
ON_DEVICE = """async (address) => {
    const database = await new Promise((resolve) => {
        const request = indexedDB.open("floor");
        request.onsuccess = () => resolve(request.result);
    });
    const count = (store) => new Promise((resolve) => {
        const request = database.transaction(store).objectStore(store).getAllKeys();
        request.onsuccess = () => resolve(request.result);
    });
    const [pages, packs] = [await count("pages"), await count("packs")];
    database.close();
    return pages.includes(address) && packs.length > 0;
}"""
WORKER = """async () => (await navigator.serviceWorker.getRegistrations()).map(
    ({ installing, waiting, active }) => [installing, waiting, active].map((worker) => worker?.state)
)"""
READY = "() => performance.getEntriesByName('floor-ready')[0]?.startTime ?? 0"
SHOWN = "() => performance.getEntriesByType('navigation')[0].domContentLoadedEventEnd"


@dataclass(frozen=True, slots=True)
class Starts:
    """Milliseconds from asking for a page to its being ready: the Floor's, and of the worker's plainest page."""

    floor: list[float]
    bare: list[float]

    @property
    def ratio(self) -> float:
        """The Floor's median by the plain page's."""
        return median(self.floor) / median(self.bare)

    def __str__(self) -> str:
        each = ", ".join(f"{ms:.0f}" for ms in self.floor)
        return f"{median(self.floor):.0f} ms of {PROMISED_MS:.0f} against {median(self.bare):.0f} ms; each: {each}"


def here() -> bool:
    """Whether there is a browser to measure in."""
    return find_spec("playwright") is not None and machine.browser() is not None


def measure(username: str, reference: str, *, rounds: int) -> tuple[taps.Taps, Starts]:
    """Tap through sessions of whoever carries this episode, then open its Floor again and again without a server."""
    floor = f"/floor/{Episode.objects.values_list('pk', flat=True).get(reference=reference)}/"
    Staff.objects.filter(username=username).update(password=make_password(PASSWORD))
    with chromium.opened() as browser:
        with served() as address:
            context = browser.new_context(
                base_url=address, viewport={"width": 1280, "height": 800}, reduced_motion="reduce"
            )
            page = _signed_in(context, username)
            _until(page, "() => navigator.serviceWorker.controller !== null")
            page.goto(floor)
            _until(page, ON_DEVICE, floor)
            tapped = taps.measure(page, rounds)
            page.locator("[data-floor-net]", has_text="all sent").wait_for()
            page.goto(floor)  # as it is taken along: with what was recorded just now
            page.locator("body[data-floor-ready]").wait_for()
        starts = started(page, floor, rounds)
        context.close()
    return tapped, starts


def started(page: Page, floor: str, rounds: int) -> Starts:
    """Both pages in turns, the first of each not counted, where no server answers and the device has kept `floor`."""
    page.context.new_cdp_session(page).send("Emulation.setCPUThrottlingRate", {"rate": taps.SLOWER})
    floors, bare = [], []
    for _ in range(rounds + 2):
        page.goto(floor)
        page.locator("body[data-floor-ready]").wait_for()
        floors.append(float(page.evaluate(READY)))
        page.goto("/staff/")  # is never kept
        bare.append(float(page.evaluate(SHOWN)))
    return Starts(floors[1:], bare[1:])


def _signed_in(context: BrowserContext, username: str) -> Page:
    page = context.new_page()
    page.goto("/sign-in/")
    page.fill("[name=username]", username)
    page.fill("[name=password]", PASSWORD)
    page.press("[name=password]", "Enter")
    page.wait_for_url(lambda url: "/sign-in/" not in url)
    return page


def _until(page: Page, true: str, given: Any = None) -> None:
    """Ask the page again and again: its policy forbids Playwright's own way of waiting for an expression."""
    for _ in range(LOOKS):
        if page.evaluate(true, given):
            return
        page.wait_for_timeout(100)
    raise RuntimeError(f"The device did not take the Floor along: {true}; its worker: {page.evaluate(WORKER)}")
