"""A measure is written one way: in the timeline as on the Floor, by the reader's language."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from django.test import Client
from django.utils.translation import override

from caseload.models import Episode
from checklists.floor.config import protocol_part
from checklists.floor.measures import UNIT, asked, measured
from checklists.record import protocols
from clinic.staff.models import Staff
from tests.makers import ago, an_attempt, imported, now
from tests.web.pages import page

Enter = Callable[[Staff], Client]


@pytest.mark.parametrize(
    ("key", "value", "english", "spanish"),
    [
        ("load_share", 48.101, "Load share 48.1 %", "48,1 %"),
        ("load_share", 48.25, "Load share 48.3 %", "48,3 %"),
        ("load_share", 50, "Load share 50 %", "50 %"),
        ("step_ratio", 0.963, "Step ratio 0.96", "0,96"),
        ("held_s", 12.34, "Held 12.3 s", "12,3 s"),
        ("own_thing", 3.14159, "own_thing 3.14", "3,14"),
        ("load_share", 1e40, "Load share 1", " %"),
    ],
)
def test_a_measure_is_rounded_and_has_its_unit(key: str, value: float, english: str, spanish: str) -> None:
    assert measured(key, value).startswith(english)
    with override("es"):
        assert measured(key, value).endswith(spanish)


def test_what_a_criterion_asks_for_has_the_unit_and_the_languages_own_sign() -> None:
    assert asked("load_share", [45, None]) == "Load share: at least 45 %"
    with override("es"):
        assert asked("step_ratio", [0.9, 1.1]).endswith(": 0,9–1,1")


@pytest.mark.django_db
def test_the_units_are_those_of_the_protocol_and_the_floor_is_told_the_decimals() -> None:
    document = protocols.loaded(protocols.current(now()).pk).document
    assert {one["key"]: one["unit"] for one in document["measures"]} == UNIT
    told = {one["key"]: (one["suffix"], one["places"]) for one in protocol_part(document, "left")["measures"]}
    assert (told["load_share"], told["step_ratio"]) == ((" %", 1), ("", 2))


@pytest.mark.django_db
def test_the_timeline_writes_what_the_floor_wrote(enter: Enter, runa: Staff, ines: Episode) -> None:
    measures = {"load_share": 48.101, "step_ratio": 0.963}
    imported(runa, ines, an_attempt("stand_load", measures=measures, at=ago(days=1), by=runa))
    seen = page(enter(runa), f"/people/{ines.pk}/")
    assert "Load share 48.1 %, Step ratio 0.96" in seen
    assert "48.101" not in seen
