"""A server that is late: what a device keeps is shown meanwhile, but nothing from before what was just sent from it."""

from __future__ import annotations

import time
from types import ModuleType
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from caseload.episode.models import Episode
from checklists.floor import views as floor_views
from checklists.person import selectors
from checklists.today import selectors as today
from clinic.staff.models import Staff
from tests.browser.conftest import Enter
from tests.browser.test_offline import ROWS, of_today, on_device, opened, until
from tests.makers import an_attempt
from tests.makers import recorded as record

pytestmark = pytest.mark.cut_off


@pytest.fixture
def ines(therapist: Staff) -> Episode:
    return of_today(therapist, "Ines", "Vartholm")


@pytest.fixture
def tablet(enter: Enter, therapist: Staff, ines: Episode) -> Page:
    """Today, with everybody of today on the device, and the worker there."""
    page = enter(therapist, "/", service_workers="allow")
    on_device(page)
    return page


def test_after_ones_own_form_a_late_server_is_waited_for(
    tablet: Page, therapist: Staff, ines: Episode, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The page that the device kept knows nothing of what was just sent. Else a late server is said to be late, and the
    line goes when it answers."""
    wrong = an_attempt("stand_load")
    record(therapist, ines, wrong)
    tablet.goto(f"/people/{ines.pk}/")
    until(tablet, f"({ROWS})(['pages', 'address']).then((kept) => kept.includes('/people/{ines.pk}/'))")
    _late(monkeypatch, selectors, "person_page")
    tablet.goto(f"/people/{ines.pk}/strike-out/?entry={wrong['id']}")
    tablet.get_by_label("Why").fill("Tapped by mistake.")
    tablet.get_by_role("button", name="Strike out").click()
    expect(tablet.get_by_text("Struck out.")).to_be_visible()
    expect(tablet.locator(".as-of")).to_have_count(0)
    tablet.goto(f"/people/{ines.pk}/")
    expect(tablet.locator(".as-of")).to_contain_text("The server answers.")
    tablet.get_by_role("link", name="Show it as it is now").click()
    expect(tablet.locator(".as-of")).to_have_count(0)


def test_after_ones_own_facts_were_sent_a_late_server_is_waited_for_and_the_floor_opens_at_once(
    tablet: Page, therapist: Staff, ines: Episode, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Today as it was before would say of a knee that was just proven that it is not."""
    expect(tablet.locator(".call-now")).to_have_count(0)
    hand = opened(tablet, ines)
    hand.start_check()
    hand.sent()
    _late(monkeypatch, today, "today")
    _late(monkeypatch, floor_views, "floor_page")
    tablet.goto("/")
    expect(tablet.locator(".as-of")).to_have_count(0)
    expect(tablet.locator(".call-now")).to_have_count(1)
    tablet.goto(f"/floor/{ines.pk}/")
    assert tablet.evaluate("document.body.dataset.fromDevice") == ""
    tablet.context.set_offline(True)
    tablet.goto("/day-end/")
    expect(tablet.locator(".as-of")).to_contain_text("What you recorded, signed or filled in at")


def _late(monkeypatch: pytest.MonkeyPatch, module: ModuleType, name: str) -> None:
    """A server under load: what makes a page takes a second and a half longer."""
    prompt = getattr(module, name)

    def late(*args: Any, **kwargs: Any) -> Any:
        time.sleep(1.5)
        return prompt(*args, **kwargs)

    monkeypatch.setattr(module, name, late)
