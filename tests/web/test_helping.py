"""What an assistant is told of what is theirs to record: true of the core, and the same words wherever they stand."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from django.test import Client

from caseload.models import Episode, Visit
from checklists.person.heads import fold_of
from checklists.person.helping import HELPER, helping
from checklists.record.models import Head
from clinic import clock
from clinic.access import assurance
from clinic.staff.models import Staff
from tests.makers import (
    a_check,
    a_cover,
    a_lead,
    a_prosthetist,
    a_therapist,
    ago,
    an_assistant,
    an_attempt,
    an_entry,
    an_episode,
    imported,
    now,
    recorded,
)
from tests.web.pages import page
from tests.web.test_person_page import signed

pytestmark = pytest.mark.django_db
Enter = Callable[[Staff], Client]
SAID = (
    "You record the checks, and each skill that a therapist has led before, also where it must be proven again or"
    " checked in the bars. A skill that none has led yet, and signing off, wait for {}."
)


def test_what_a_therapist_led_is_open_to_an_assistant_also_to_be_proven_again_or_checked_in_the_bars(
    runa: Staff, ines: Episode
) -> None:
    """So says the core, of whom the sentence speaks."""
    tried = {"don_check": "none", "yield_load": "bars_both", "stair_down": "contralateral_rail"}
    attempts = [an_attempt(skill, rung, by=runa, at=ago(days=20)) for skill, rung in tried.items()]
    change = an_entry("setting_changed", by=a_prosthetist(), at=ago(days=1), setting="resistance", to="5")
    signs = [signed(runa, skill, days=9) for skill in (*tried, "stand_load")]
    against = an_attempt("ramp_up", "bars_both", by=an_assistant(), at=ago(days=2))  # it opens nothing to an assistant
    imported(runa, ines, *attempts, *signs, change, against)
    fold, at = fold_of(Head.objects.select_related("episode__site").get(episode=ines)), clock.now()
    assert [fold.status(skill, at).status for skill in ("yield_load", "stair_down")] == ["suspended"] * 2
    closed = set(fold.closed_to(HELPER, at))
    assert not closed & set(tried)
    assert closed == {skill["key"] for skill in fold.protocol.document["skills"]} - set(tried), (
        "signed off without an attempt is led by none, too"
    )
    check = {
        "kind": "check",
        "name": "start_of_session",
        "steps": dict.fromkeys(("skin", "fit", "footwear", "mode"), True),
    }
    assert fold.advise(check, at=at, role=HELPER).allowed


def test_what_comes_next_says_to_an_assistant_that_a_therapist_leads_it(
    enter: Enter, runa: Staff, ines: Episode
) -> None:
    Visit.objects.create(episode=ines, site=ines.site, staff=runa, starts_at=now())
    waits, assistant = "With a therapist: none has led it yet.", enter(an_assistant())
    for address in ("/", f"/people/{ines.pk}/"):
        assert waits in page(assistant, address), address
        assert waits not in page(enter(runa), address), address
    recorded(runa, ines, an_attempt("don_check", "none"))
    for address in ("/", f"/people/{ines.pk}/"):
        assert waits not in page(assistant, address), address


def test_the_same_words_stand_on_the_persons_page_the_floor_and_today(enter: Enter, runa: Staff, ines: Episode) -> None:
    Visit.objects.create(episode=ines, site=ines.site, staff=runa, starts_at=now())
    client = enter(an_assistant())
    assert SAID.format("Runa Achterling") in page(client, f"/people/{ines.pk}/")
    assert client.get(f"/floor/{ines.pk}/").context["config"]["helps"]["said"] == SAID.format("Runa Achterling")
    today = page(client)
    assert SAID.format("the person’s therapist") in today
    assert today.index("You record") < today.index('class="day"')
    for who in (runa, a_prosthetist(), a_lead()):
        assert "You record" not in page(enter(who), f"/people/{ines.pk}/")
    for who in (runa, a_lead()):
        assert "You record" not in page(enter(who))


def test_whoever_stands_in_is_named_on_both_pages(enter: Enter, runa: Staff, ines: Episode) -> None:
    a_cover(ines, a_therapist(name="Tove Marrick"), start=ago(days=1), end=None)
    client = enter(an_assistant())
    assert SAID.format("Tove Marrick") in page(client, f"/people/{ines.pk}/")
    assert client.get(f"/floor/{ines.pk}/").context["config"]["helps"]["therapist"] == "Tove Marrick"


def test_a_therapist_with_a_pin_is_not_told_what_binds_an_assistant(runa: Staff) -> None:
    with assurance.acting(assurance.Assurance.PIN):
        assert helping(runa, "anybody", at=clock.now()) == ""


def test_what_waits_for_a_signature_is_counted_as_the_therapists(enter: Enter) -> None:
    runa = a_therapist()
    ines = an_episode(assigned_to=runa)
    Visit.objects.create(episode=ines, site=ines.site, staff=runa, starts_at=now())
    for days in (3, 2, 2):
        recorded(runa, ines, a_check(), an_attempt("don_check", "none", help="watching", at=ago(days=days)))
    assert "<dt>To sign, by their therapist</dt><dd>1</dd>" in page(enter(an_assistant()))
    for who in (runa, a_lead()):
        assert "<dt>To sign</dt><dd>1</dd>" in page(enter(who))
