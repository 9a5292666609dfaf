"""A field for a day says the day in words beside it, in the page's language: 03/04 is read in two ways."""

from __future__ import annotations

import re
from collections.abc import Callable

import pytest
from playwright.sync_api import Page, expect

from tests.makers import a_records_officer

Enter = Callable[..., Page]
SAID = {"en-gb": re.compile("^Friday,? 3 April 2026$"), "es": re.compile("^viernes,? 3 de abril de 2026$")}


@pytest.mark.parametrize("language", SAID)
def test_the_day_stands_in_words_beside_its_field(enter: Enter, language: str) -> None:
    page = enter(a_records_officer(language=language))
    page.goto("/trail/person/")
    field, said = page.locator("#id_last"), page.locator("#id_last + output")
    expect(said).not_to_have_text("")
    field.fill("2026-04-03")
    expect(said).to_have_text(SAID[language])
    field.fill("")
    expect(said).to_have_text("")
