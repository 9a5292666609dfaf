"""Whoever chose Spanish reads Spanish on every page, and a page for the person is in the person's language."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from django.conf import settings
from django.test import Client

from clinic.staff.models import Staff
from tests.makers import a_person, a_therapist, ago, an_attempt, an_entry, an_episode, imported, recorded
from tests.web.leftover import in_the_database, leftovers, read
from tests.world import a_world, addresses

pytestmark = pytest.mark.django_db
Enter = Callable[..., Client]
ROLES = ("lead", "therapist", "bench", "records", "assistant")
# The same in every language: one by its own name; the name of a field of what was sent, in the refusal of it.
SAME = ("english", "injury")


def _pages(enter: Enter, world: dict[str, Any]) -> dict[str, str]:
    """Every page, as the first role that is shown it sees it."""
    found: dict[str, str] = {}
    for role in ROLES:
        staff: Staff = world[role]
        staff.language = "es"
        staff.save(update_fields=["language"])
        browser = enter(staff)
        for address, name in addresses(world):
            if name in found or name in ("sign_out", "cleared") or address.startswith("api/"):
                continue
            answer = browser.get(f"/{address}")
            if answer.status_code == 200 and "html" in answer.headers.get("Content-Type", ""):
                found[name] = answer.content.decode()
    return found


@pytest.mark.slow
def test_no_page_has_english_left(enter: Enter) -> None:
    pages = _pages(enter, a_world())
    data = [*in_the_database(), settings.CLINIC_NAME]
    found = {name: left for name, page in pages.items() if (left := leftovers(page, "en", data, SAME))}
    assert found == {}
    assert len(pages) > 100


def _signed(staff: Staff, skill: str, days: int) -> dict[str, Any]:
    return an_entry("sign_off", by=staff, at=ago(days=days), skill=skill)


@pytest.mark.parametrize(("own", "persons"), [("en-gb", "es"), ("es", "en"), ("es", "ar"), ("en-gb", "es-419")])
def test_what_the_person_takes_home_is_in_their_language(enter: Enter, own: str, persons: str) -> None:
    """The whole page, the sentences of the protocol and the dates too; the clinic's first language where theirs is not
    here. The next page of the same browser is in the reader's own again."""
    staff = a_therapist(language=own)
    episode = an_episode(assigned_to=staff, person=a_person(language=persons))
    imported(staff, episode, _signed(staff, "car", 5), _signed(staff, "stair_up", 4))
    recorded(staff, episode, an_attempt(at=ago(minutes=5)))
    browser = enter(staff)
    answer = browser.get(f"/people/{episode.pk}/cleared/")
    page, data = answer.content.decode(), [*in_the_database(), settings.CLINIC_NAME]
    spanish = persons.startswith("es")
    assert (read(page).language, answer.headers["Content-Language"]) == (("es",) * 2 if spanish else ("en-GB",) * 2)
    assert read(page).direction == "ltr"
    assert leftovers(page, "en" if spanish else "es", data, ("english",)) == []
    assert ("Getting in and out of a car" in page) is not spanish
    born = "2 abr 1961" if spanish else "2 Apr 1961"
    assert born in page
    assert read(browser.get(f"/people/{episode.pk}/").content.decode()).language == ("es" if own == "es" else "en-GB")


def test_a_word_left_in_english_is_found() -> None:
    page = '<html lang="es"><p>Guardar y <b>withdraw</b></p><p lang="en">withdraw</p><i title="withdraw">3</i></html>'
    assert leftovers(page, "en", []) == ["withdraw", "withdraw"]
    assert leftovers(page, "en", ["withdraw"]) == []
    assert leftovers(page.replace("withdraw", "retirar"), "en", []) == []
