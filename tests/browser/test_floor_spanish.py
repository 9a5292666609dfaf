"""The Floor in Spanish: advice, alerts and reasons come from the core in English, and are read in the reader's own
language, with a network and without one. What is recorded stays as it is."""

from __future__ import annotations

import pytest
from django.conf import settings
from playwright.sync_api import Page, expect

from tests.browser.conftest import Enter
from tests.browser.floor_hands import Hand, recorded
from tests.makers import a_person, a_therapist, an_episode
from tests.web.leftover import in_the_database, leftovers, read


def english_on(page: Page) -> list[str]:
    """Texts with an English word."""
    return leftovers(page.content(), "en", [*in_the_database(), settings.CLINIC_NAME], ("english",))


@pytest.mark.cut_off
def test_the_floor_speaks_spanish_with_a_network_and_without(enter: Enter) -> None:
    therapist = a_therapist(name="Runa Achterling", language="es")
    episode = an_episode(assigned_to=therapist, person=a_person(given_name="Ines", family_name="Vartholm"))
    hand = Hand(enter(therapist, f"/floor/{episode.pk}/"))
    page = hand.page
    assert read(page.content()).language == "es"
    hand.start_check()
    hand.skill("stand_load")
    assert english_on(page) == []
    hand.support("bars_one")
    advice = page.locator("[data-floor-advice]")
    expect(advice).to_contain_text("Haga antes un intento seguro")
    expect(advice).to_contain_text("Haga ahora")
    assert english_on(page) == []
    page.context.set_offline(True)
    hand.tap(page.locator('input[name="despite"]').first)
    hand.result("unsafe")
    expect(page.locator(".log-alerts")).to_contain_text("El apoyo se retira de nivel en nivel")
    expect(page.locator(".log-alerts")).to_contain_text("Deténgase y siente a la persona")
    assert english_on(page) == []
    page.context.set_offline(False)
    page.reload()
    expect(page.locator(".ledger")).to_contain_text("contra el consejo")
    for _ in range(100):
        if attempts := recorded(episode, "attempt"):
            break
        page.wait_for_timeout(100)
    assert [(one["despite"], one["result"]) for one in attempts] == [("They went on", "unsafe")]
