"""A walk through every page that the programme has, as somebody of each role: what the tests of the walk read.

The pages are those of the URL conf, filled with one of everything (tests/world.py), each seen by the first role that is
shown it; and once more the places of each role's navigation in a clinic where nothing has happened yet. One sign-in a
role and one visit a page: what is looked at there stands in looking.py.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any

from django.conf import settings
from django.test import Client
from playwright.sync_api import Browser, BrowserContext, Error, Page

from clinic.staff.models import Staff
from tests.browser.looking import WIDE
from tests.makers import a_lead, a_prosthetist, a_records_officer, a_therapist, an_assistant, in_through_the_door
from tests.world import a_world, addresses

ROLES = ("lead", "therapist", "bench", "records", "assistant", "nobody")  # the first sees most
NOT_WALKED = ("sign_out",)  # whoever asks for it is outside
WAYS = "(all) => all.map((one) => one.firstChild.data.trim() + one.pathname)"
Look = Callable[[Page, str, int], dict[str, list[str]]]


@dataclass(slots=True)
class Walked:
    """What was seen: who saw each page, what the others were told, and findings by kind of look and page."""

    pages: dict[str, str] = field(default_factory=dict)  # name of the page → role
    told: dict[str, set[str]] = field(default_factory=dict)  # name → what was answered instead of a page
    ways: dict[str, set[tuple[str, ...]]] = field(default_factory=dict)  # role → every navigation that it was shown
    found: dict[str, dict[str, list[str]]] = field(default_factory=dict)

    def keep(self, where: str, seen: dict[str, list[str]]) -> None:
        """Put away what a look at a page found."""
        for kind, lines in seen.items():
            self.found.setdefault(kind, {})
            if lines:
                self.found[kind][where] = lines

    @property
    def unseen(self) -> dict[str, set[str]]:
        """What nobody was shown as a page."""
        return {name: told for name, told in self.told.items() if name not in self.pages}


@contextmanager
def inside(browser: Browser, url: str, staff: Staff | None, **profile: Any) -> Iterator[BrowserContext]:
    """A browser profile with somebody's session: the door itself is tested elsewhere, here it would be time.

    Less motion is asked for: nothing is looked at while a colour is on its way to another.
    """
    size = {"width": WIDE[0], "height": WIDE[1]}
    given = {"viewport": size, "locale": "en-GB", "reduced_motion": "reduce", **profile}
    context = browser.new_context(base_url=url, **given)
    context.set_default_timeout(10_000)
    if staff is not None:
        client = Client()
        in_through_the_door(client, staff)
        client.get("/sign-in/")  # the token of forms, as the door would have given it
        names = (settings.SESSION_COOKIE_NAME, settings.CSRF_COOKIE_NAME)
        context.add_cookies([{"name": name, "value": client.cookies[name].value, "url": url} for name in names])
    yield context
    context.close()


def _routes(world: dict[str, Any]) -> list[tuple[str, str]]:
    found = [one for one in addresses(world) if one[1] not in NOT_WALKED]
    return [(address, name) for address, name in found if not address.startswith("api/")]


def one_of_everything(browser: Browser, url: str, look: Look) -> Walked:
    """Every address of a world where everything has happened."""
    world, walked = a_world(), Walked()
    for role in ROLES:
        with inside(browser, url, world.get(role)) as context:
            _walk(context.new_page(), role, _routes(world), walked, look)
    return walked


def where_nothing_happened(browser: Browser, url: str, look: Look) -> Walked:
    """The places of everybody's navigation, in a clinic that opened this morning."""
    walked, names = Walked(), dict(_routes(_Nothing()))
    staff = {"lead": a_lead(), "therapist": a_therapist(), "bench": a_prosthetist(), "records": a_records_officer()}
    for role, somebody in {**staff, "assistant": an_assistant()}.items():
        with inside(browser, url, somebody) as context:
            page = context.new_page()
            page.goto("/protocol/")
            ways = page.locator(".plate nav a").evaluate_all("(all) => all.map((one) => one.pathname.slice(1))")
            _walk(page, f"{role}, empty", [(way, names[way]) for way in ways], walked, look)
    return walked


class _Nothing(dict[str, Any]):
    """A world without anything: every id is 'none'."""

    def get(self, key: str, default: Any = None) -> Any:
        return "none"


def _walk(page: Page, role: str, routes: list[tuple[str, str]], walked: Walked, look: Look) -> None:
    for address, name in routes:
        if name in walked.pages or _never_a_page(walked.told.get(name, set())):
            continue
        answer = _asked(page, address)
        if answer != "200 page":
            walked.told.setdefault(name, set()).add(answer)
            continue
        walked.pages[name] = role
        ways = page.locator(".plate nav a").evaluate_all(WAYS)
        walked.ways.setdefault(role, set()).add(tuple(ways))
        walked.keep(f"{name} ({role})", look(page, name, len(walked.pages)))


def _never_a_page(told: set[str]) -> bool:
    """Whether what was answered is the same for whoever asks: forms that are only sent, files, data for a script."""
    return any(answer in ("a file", "data") or answer.startswith("405") for answer in told)


def _asked(page: Page, address: str) -> str:
    """Go there; what came: a status with 'page', or 'elsewhere', 'a file', 'data', 'a part of a page'."""
    try:
        answer = page.goto(f"/{address}", wait_until="domcontentloaded")
    except Error:
        return "a file"
    if answer is None or answer.request.redirected_from is not None:
        return "elsewhere"
    if "html" not in answer.headers.get("content-type", ""):
        return "data"
    whole = page.evaluate("document.documentElement.hasAttribute('lang')")
    return f"{answer.status} {'page' if whole else 'part of a page'}"
