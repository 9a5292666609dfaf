"""The policy as a browser holds it: no text becomes markup, no script that stands in a page runs; and what needs one
exception, the trail's older rows, works."""

from __future__ import annotations

import pytest
from playwright.sync_api import Browser, Error, expect
from pytest_django.live_server_helper import LiveServer

from clinic.audit import trail
from tests.browser.conftest import Enter
from tests.makers import a_records_officer, now

MARKUP = "document.querySelector('main').innerHTML = '<img src=x onerror=alert(1)>'"
INLINE = """() => {
  const script = document.createElement("script");
  script.textContent = "window.ran = true";
  document.body.append(script);
}"""


def test_no_text_becomes_markup_or_code(browser: Browser, live_server: LiveServer) -> None:
    """A page outside the fixture, which takes every complaint of a browser for a failure: here two are wanted."""
    page = browser.new_page(base_url=live_server.url)
    page.goto("/sign-in/")
    for breach in (MARKUP, INLINE):
        with pytest.raises(Error, match=r"TrustedScript|TrustedHTML"):
            page.evaluate(breach)
    assert page.evaluate("window.ran") is None
    assert page.evaluate("document.querySelector('main img')") is None
    page.close()


def test_the_one_rule_of_trusted_types_admits_our_workers_address(browser: Browser, live_server: LiveServer) -> None:
    """No script makes a rule of another name; ours is made once, and takes no other address for a worker."""
    page = browser.new_page(base_url=live_server.url)
    page.goto("/sign-in/")
    with pytest.raises(Error, match="disallowed"):
        page.evaluate("trustedTypes.createPolicy('other', {}) && null")
    with pytest.raises(Error, match="TrustedScriptURL"):
        page.evaluate("navigator.serviceWorker.register('/sw.js').then(() => null)")
    made = page.evaluate(
        """async () => {
            const { registerWorker } = await import("/static/clinic/device/register.js");
            await registerWorker();
            return (await navigator.serviceWorker.getRegistration()).scope;
        }"""
    )
    assert made == f"{live_server.url}/"
    with pytest.raises(Error, match="already exists"):
        page.evaluate("trustedTypes.createPolicy('worker-address', { createScriptURL: (any) => any }) && null")
    page.close()


def test_older_rows_of_the_trail_are_added_below(enter: Enter) -> None:
    officer = a_records_officer()
    for number in range(130):
        trail.record(None, "tried.out", "nothing", number, at=now())
    page = enter(officer, "/trail/")
    rows = page.locator("#rows > tr")
    before = rows.count()
    page.get_by_role("link", name="Older").click()
    expect(rows).not_to_have_count(before)
    assert rows.count() > before
    assert "before=" not in page.url
