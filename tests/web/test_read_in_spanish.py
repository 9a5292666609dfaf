"""Whoever chose Spanish reads Spanish on every page, and a page for the person is in the person's language."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from django.conf import settings
from django.test import Client

from clinic.audit.models import TrailRow
from clinic.staff.models import Staff
from tests.makers import a_person, a_therapist, ago, an_attempt, an_entry, an_episode, imported, recorded
from tests.taught import taught
from tests.web.leftover import in_the_database, leftovers, read
from tests.world import a_world, addresses

pytestmark = pytest.mark.django_db
Enter = Callable[..., Client]
ROLES = ("lead", "therapist", "bench", "records", "assistant")
# The same in every language: one by its own name; the name of a field of what was sent, in the refusal of it.
SAME = ("english", "injury")


def _spanish(enter: Enter, world: dict[str, Any]) -> dict[str, Client]:
    """Somebody of every role, who reads Spanish."""
    for role in ROLES:
        world[role].language = "es"
        world[role].save(update_fields=["language"])
    return {role: enter(world[role]) for role in ROLES}


def _walked(world: dict[str, Any]) -> list[tuple[str, str]]:
    """The addresses of pages, but for those that end the session or are in the language of somebody else."""
    left_out = ("sign_out", "cleared")
    return [(f"/{where}", name) for where, name in addresses(world) if name not in left_out and where[:4] != "api/"]


def _pages(browsers: dict[str, Client], world: dict[str, Any]) -> dict[str, str]:
    """Every page, as the first role that is shown it sees it."""
    found: dict[str, str] = {}
    for browser in browsers.values():
        for address, name in _walked(world):
            if name not in found:
                answer = browser.get(address)
                if answer.status_code == 200 and "html" in answer.headers.get("Content-Type", ""):
                    found[name] = answer.content.decode()
    return found


def _refused(browsers: dict[str, Client], world: dict[str, Any]) -> dict[str, str]:
    """What a form says that was sent empty, and the page of each kind of refusal."""
    found: dict[str, str] = {}
    for browser in (browsers["lead"], browsers["records"]):
        for address, name in _walked(world):
            if name not in ("own_sessions", "language", "sign_in_second", "hand_over", *found):
                answer = browser.post(address, {})
                if answer.status_code >= 400 and "html" in answer.headers.get("Content-Type", ""):
                    found[name if answer.status_code == 422 else str(answer.status_code)] = answer.content.decode()
    return found


@pytest.mark.slow
def test_no_page_and_no_refusal_has_english_left(enter: Enter) -> None:
    world = a_world()
    browsers = _spanish(enter, world)
    pages = _pages(browsers, world)
    refused = _refused(browsers, world)
    data = [*in_the_database(), settings.CLINIC_NAME]
    told = {**{f"{name}, sent empty": page for name, page in refused.items()}, **pages}
    found = {name: left for name, page in told.items() if (left := leftovers(page, "en", data, SAME))}
    assert found == {}
    assert len(pages) > 100
    assert len(refused) > 40


def _signed(staff: Staff, skill: str, days: int) -> dict[str, Any]:
    return an_entry("sign_off", by=staff, at=ago(days=days), skill=skill)


@pytest.mark.parametrize(("own", "persons"), [("en-gb", "es"), ("es", "en"), ("es", "ar"), ("en-gb", "es-419")])
def test_what_the_person_takes_home_is_in_their_language(enter: Enter, own: str, persons: str) -> None:
    """The whole page, the sentences of the protocol and the dates too; the clinic's first language where theirs is not
    here. The next page of the same browser is in the reader's own again."""
    staff = a_therapist(language=own)
    episode = an_episode(assigned_to=staff, person=a_person(language=persons))
    imported(staff, episode, *taught(staff, "car", "stair_up"))
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


def test_who_gives_the_page_reads_it_in_their_own_language_first(enter: Enter) -> None:
    """A plain way there, in words that they read; what is read so is not what is printed."""
    staff = a_therapist(language="en-gb")
    episode = an_episode(assigned_to=staff, person=a_person(language="es"))
    imported(staff, episode, _signed(staff, "car", 5))
    browser, address = enter(staff), f"/people/{episode.pk}/cleared/"
    theirs, own = browser.get(address).content.decode(), browser.get(f"{address}?mine").content.decode()
    assert '<a class="act act-soft" lang="en-GB" hreflang="en-GB" href="?mine">Read it in English</a>' in theirs
    assert read(own).language == "en-GB"
    assert "Getting in and out of a car" in own
    assert "The person takes it home in: Español." in own
    assert ("data-print" in theirs, "data-print" in own) == (True, False)
    verbs = TrailRow.objects.filter(episode=episode.pk, verb__startswith="person.").order_by("number")
    assert list(verbs.values_list("verb", flat=True)) == ["person.printed", "person.opened"]
    staff.language = "es"
    staff.save(update_fields=["language"])
    assert "?mine" not in enter(staff).get(address).content.decode()


def test_a_word_left_in_english_is_found() -> None:
    page = '<html lang="es"><p>Guardar y <b>withdraw</b></p><p lang="en">withdraw</p><i title="withdraw">3</i></html>'
    assert leftovers(page, "en", []) == ["withdraw", "withdraw"]
    assert leftovers(page, "en", ["withdraw"]) == []
    assert leftovers(page.replace("withdraw", "retirar"), "en", []) == []
