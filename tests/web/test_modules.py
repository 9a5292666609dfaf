"""A page that must start quickly names in its head every module that it will ask for."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from django.contrib.staticfiles import finders
from django.test import Client

from clinic.web.modules import stands_on
from tests.makers import a_therapist, an_episode, in_through_the_door

HREF = re.compile(r'<link rel="modulepreload" href="/static/([^"]+)">')
ANY_IMPORT = re.compile(r"""(?:\bfrom\s*|\bimport\s*\(?\s*)["']([^"']+\.js)["']""")


def test_what_a_module_imports_is_found_to_the_last_one() -> None:
    found = stands_on("checklists/floor/main.js")
    assert found[0] == "checklists/floor/main.js"
    assert len(found) == len(set(found))
    names = {name.rpartition("/")[2] for name in found}
    assert {"local.js", "core.js", "sha256.js", "database.js", "gettext.js"} <= names
    text = {name: Path(str(finders.find(name))).read_text(encoding="utf-8") for name in found}
    asked = {each.rpartition("/")[2] for one in text.values() for each in ANY_IMPORT.findall(one)}
    assert asked <= names, "a module is imported that was not found"


def test_a_file_that_is_not_there_is_said() -> None:
    with pytest.raises(FileNotFoundError):
        stands_on("checklists/floor/nowhere.js")


@pytest.mark.django_db
def test_the_floor_names_its_modules_in_the_head(client: Client) -> None:
    therapist = a_therapist()
    in_through_the_door(client, therapist)
    page = client.get(f"/floor/{an_episode(assigned_to=therapist).pk}/").content.decode()
    head, _, body = page.partition("</head>")
    assert HREF.findall(head) == list(stands_on("checklists/floor/main.js", "clinic/js/shell.js"))
    assert not HREF.findall(body)
