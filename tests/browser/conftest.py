"""A real browser against a real server: `enter(staff)` gives a page of somebody who has signed in.

They come through the door as a programme would, in two requests, and the browser is given what the server answered:
what a person does at the door is tried by test_front, test_tablet and others (`sign_in`, by keyboard and mouse).

Whatever the browser complains about on its console (a script that broke, a file that is not there, a breach of the
content security policy) fails the test in which it happened.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from django.contrib.sessions.backends.db import SessionStore
from django.contrib.sessions.models import Session
from django.core.signals import request_finished, request_started
from django.test import Client
from playwright.sync_api import Browser, BrowserContext, ConsoleMessage, Dialog, Page
from pytest_django.live_server_helper import LiveServer

from caseload.models import Episode
from clinic.run import chromium, machine
from clinic.staff.models import Staff
from tests.browser.floor_hands import Hand
from tests.browser.looking import SIZES
from tests.makers import PASSWORD, a_code, a_person, a_therapist, an_episode, in_through_the_door

Enter = Callable[..., Page]
QUIET = 3  # looks, one after the other, at which nobody waits for an answer


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Everything in this folder needs a browser, and a database that other threads can see."""
    for item in items:
        if "tests/browser" in item.path.as_posix():
            item.add_marker(pytest.mark.browser)
            item.add_marker(pytest.mark.django_db(transaction=True))


@pytest.fixture(autouse=True)
def answered(transactional_db: None) -> Iterator[Callable[[], None]]:
    """Waits until the server has answered everything. The database is emptied after that only, for what a closed page
    had asked for, too. The server is asked and not the browser: being told of every file of every page is dear."""
    asked: set[int] = set()

    def begins(**_: Any) -> None:
        asked.add(threading.get_ident())

    def ends(**_: Any) -> None:
        asked.discard(threading.get_ident())

    def wait() -> None:
        deadline, quiet = time.monotonic() + 5, 0
        while quiet < QUIET and time.monotonic() < deadline:
            time.sleep(0.01)
            quiet = 0 if asked else quiet + 1  # what was sent a moment ago may not have begun

    request_started.connect(begins)
    request_finished.connect(ends)
    yield wait
    wait()
    request_started.disconnect(begins)
    request_finished.disconnect(ends)


@pytest.fixture(scope="session")
def browser_type_launch_args(browser_type_launch_args: dict[str, Any]) -> dict[str, Any]:
    """The machine's own Chromium."""
    path = machine.browser()
    if path is None:
        pytest.fail(chromium.NONE, pytrace=False)
    return {**browser_type_launch_args, "executable_path": path, "args": chromium.arguments()}


@pytest.fixture
def enter(
    request: pytest.FixtureRequest, browser: Browser, live_server: LiveServer, answered: Callable[[], None]
) -> Iterator[Enter]:
    """A page for one person, in a browser profile of their own; further pages by `page.context.new_page()`."""
    contexts: list[BrowserContext] = []
    complaints: list[str] = []

    def come_in(staff: Staff | None = None, address: str = "", *, size: str = "tablet", **profile: Any) -> Page:
        width, height = SIZES[size]
        profile.setdefault("base_url", live_server.url)
        profile.setdefault("service_workers", "block")  # a test that cuts the network asks for the worker: "allow"
        context = browser.new_context(locale="en-GB", viewport={"width": width, "height": height}, **profile)
        contexts.append(context)
        context.set_default_timeout(10_000)
        context.on("console", lambda said: complaints.extend(_complaint(said)))
        context.on("weberror", lambda error: complaints.append(str(error.error)))
        page = context.new_page()
        if staff is not None:
            first = _let_in(context, staff, profile["base_url"])
            address = address or first
        if address:
            page.goto(address)
        return page

    yield come_in
    answered()
    for context in contexts:
        context.close()
    if request.node.get_closest_marker("cut_off"):  # the test itself had answers fail: the browser may say so
        complaints = [said for said in complaints if not said.startswith("Failed to load resource")]
    assert complaints == [], complaints


@pytest.fixture
def therapist() -> Staff:
    """Who stands at the bars."""
    return a_therapist(name="Runa Achterling")


@pytest.fixture
def ines(therapist: Staff) -> Episode:
    """One of theirs."""
    return an_episode(assigned_to=therapist, person=a_person(given_name="Ines", family_name="Vartholm"))


@pytest.fixture
def hand(enter: Enter, therapist: Staff, ines: Episode) -> Hand:
    """The therapist's, on the Floor of Ines."""
    return Hand(enter(therapist, f"/floor/{ines.pk}/"))


def _complaint(said: ConsoleMessage) -> list[str]:
    """An error on the console. That a page has a status of 4xx or 5xx is no complaint: tests ask for such pages."""
    if said.type != "error":
        return []
    where = str(said.location.get("url", "")).split("#")[0]
    refused = said.text.startswith("Failed to load resource: the server responded with a status of")
    if refused and ("401" in said.text or "503" in said.text):  # what a page that asks by itself may be told
        return []
    is_page = said.page is not None and where == said.page.url.split("#")[0]
    return [] if refused and is_page else [f"{said.text} ({where})"]


def _let_in(context: BrowserContext, staff: Staff, server: str) -> str:
    """Somebody has signed in, in this profile; the address that they come to."""
    browser = Client()
    first = in_through_the_door(browser, staff)["Location"]
    context.add_cookies([{"name": name, "value": one.value, "url": server} for name, one in browser.cookies.items()])
    return str(first)


def sign_in(page: Page, staff: Staff) -> None:
    """Through the door by keyboard and mouse."""
    page.goto("/sign-in/")
    takes_both_steps(page, staff)


def takes_both_steps(page: Page, staff: Staff) -> None:
    """At the door already: name and password, then the code."""
    page.get_by_label("Sign-in name").fill(staff.username)
    page.get_by_label("Password", exact=True).fill(PASSWORD)
    page.get_by_role("button", name="Sign in", exact=True).click()
    page.wait_for_url(lambda address: not address.partition("?")[0].endswith("/sign-in/"))
    if page.url.endswith("/sign-in/second/"):
        page.get_by_label("Code", exact=True).fill(a_code(staff))
        page.get_by_role("button", name="Sign in", exact=True).click()
    page.wait_for_url(lambda address: "/sign-in/" not in address)


def signs_out(page: Page, *, sure: bool) -> str:
    """Press it where something is not sent; what is asked then. `sure`: go all the same."""
    asked: list[str] = []

    def answer(dialog: Dialog) -> None:
        asked.append(dialog.message)
        if sure:
            dialog.accept()
        else:
            dialog.dismiss()

    page.once("dialog", answer)
    page.locator(".plate-who summary").click()
    page.get_by_role("button", name="Sign out").click()
    deadline = time.monotonic() + 5
    while not asked and time.monotonic() < deadline:
        page.wait_for_timeout(20)
    return "".join(asked)


def session_ends(staff: Staff) -> None:
    """Long ago somebody last used the session of this person."""
    for row in Session.objects.all():
        data = row.get_decoded()
        if data.get("_auth_user_id") == str(staff.pk):
            store = SessionStore(row.session_key)
            store["seen_at"] = "2020-01-01T00:00:00+00:00"
            store.save()
