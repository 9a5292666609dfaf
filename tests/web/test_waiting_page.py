"""The page of marks that wait: what was sealed on a tablet under somebody's name, and what they do with it."""

from __future__ import annotations

import re
import uuid
from collections.abc import Callable

import pytest
from django.test import Client

from caseload.models import Episode
from checklists.models import Entry, SealedMark
from checklists.sealed.bringing import bring
from clinic.audit.models import TrailRow
from clinic.staff.models import Staff
from tests.makers import a_lead, a_person, a_therapist, ago, an_attempt, an_episode, now
from tests.sealing import a_sealed_mark, sealed

pytestmark = pytest.mark.django_db
Enter = Callable[..., Client]
PAGE = "/waiting/"


@pytest.fixture
def jorun() -> Staff:
    return a_lead(name="Jorun Wexthorn")


def text_of(browser: Client, address: str = PAGE) -> str:
    answer = browser.get(address)
    assert answer.status_code == 200
    return " ".join(answer.content.decode().split())


def ticks(page: str) -> list[str]:
    return re.findall(r'type="checkbox" name="mark" value="([^"]+)"', page)


def in_record(mark: SealedMark) -> bool:
    return Entry.objects.filter(id=mark.mark, by=mark.author).exists()


def test_what_waits_is_listed_for_its_author_in_the_order_in_which_it_happened(
    enter: Enter, runa: Staff, jorun: Staff, ines: Episode
) -> None:
    later = a_sealed_mark(runa, ines, by=jorun, skill="stand_load", at=ago(minutes=10))
    earlier = a_sealed_mark(runa, ines, by=jorun, skill="don_check", support="none", at=ago(minutes=30))
    browser = enter(runa)
    page = text_of(browser)
    assert ticks(page) == [str(earlier.pk), str(later.pk)]
    for words in ("Ines Vartholm", ines.person.number, "brought by Jorun Wexthorn"):
        assert page.count(words) >= 2
    assert "2 marks wait for you" in text_of(browser, "/")


def test_only_what_is_ticked_is_recorded(enter: Enter, runa: Staff, jorun: Staff, ines: Episode) -> None:
    ticked, left = (a_sealed_mark(runa, ines, by=jorun, at=ago(minutes=minutes)) for minutes in (30, 10))
    browser = enter(runa)
    answer = browser.post("/waiting/record/", {"mark": [str(ticked.pk)]}, follow=True)
    assert answer.redirect_chain == [(PAGE, 302)]
    page = answer.content.decode()
    assert "1 mark is recorded." in page
    assert ticks(page) == [str(left.pk)]
    assert (in_record(ticked), in_record(left)) == (True, False)


@pytest.mark.parametrize("sent", [[], ["no id"], [str(uuid.UUID(int=7))]], ids=["nothing", "nonsense", "nobody's"])
def test_without_a_tick_nothing_is_recorded(
    enter: Enter, runa: Staff, jorun: Staff, ines: Episode, sent: list[str]
) -> None:
    mark = a_sealed_mark(runa, ines, by=jorun)
    page = enter(runa).post("/waiting/record/", {"mark": sent}, follow=True).content.decode()
    assert "recorded." not in page
    assert ticks(page) == [str(mark.pk)]
    assert not in_record(mark)


def test_what_the_record_does_not_take_stays_with_the_reason(
    enter: Enter, runa: Staff, jorun: Staff, ines: Episode
) -> None:
    mark = a_sealed_mark(runa, ines, by=jorun, at=ago(hours=-3))
    page = enter(runa).post("/waiting/record/", {"mark": [str(mark.pk)]}, follow=True).content.decode()
    assert "1 were not taken" in page
    assert "The record did not take it: at:" in page
    assert ticks(page) == [str(mark.pk)]
    assert not in_record(mark)


def test_a_mark_is_dropped_with_a_reason_and_not_without(
    enter: Enter, runa: Staff, jorun: Staff, ines: Episode
) -> None:
    mark = a_sealed_mark(runa, ines, by=jorun)
    browser, address = enter(runa), f"/waiting/{mark.pk}/drop/"
    assert f'href="{address}"' in text_of(browser)
    assert "Drop it for good" in text_of(browser, address)
    assert browser.post(address, {"reason": " "}).status_code == 422
    mark.refresh_from_db()
    assert mark.settled_at is None
    answer = browser.post(address, {"reason": "Tapped while cleaning the screen"}, follow=True)
    assert "It is dropped." in answer.content.decode()
    assert "Nothing waits for you." in answer.content.decode()
    mark.refresh_from_db()
    assert (mark.outcome, bytes(mark.box)) == ("dropped", b"")
    row = TrailRow.objects.get(verb="sealed.dropped")
    assert (row.actor, row.detail["reason"]) == (runa, "Tapped while cleaning the screen")
    assert not in_record(mark)


def test_nobody_else_sees_records_or_drops_it_not_even_who_brought_it(
    enter: Enter, runa: Staff, jorun: Staff, ines: Episode
) -> None:
    mark = a_sealed_mark(runa, ines, by=jorun)
    lead = enter(jorun)
    assert "Nothing waits for you." in text_of(lead)
    assert not re.search("marks? waits? for you", text_of(lead, "/"))
    lead.post("/waiting/record/", {"mark": [str(mark.pk)]})
    for answer in (
        lead.get(f"/waiting/{mark.pk}/drop/"),
        lead.post(f"/waiting/{mark.pk}/drop/", {"reason": "not mine"}),
        lead.get(f"/waiting/{uuid.UUID(int=7)}/drop/"),
    ):
        assert answer.status_code == 404  # as if there were none: that there is one is nobody else's to know
    mark.refresh_from_db()
    assert mark.settled_at is None
    assert not Entry.objects.filter(id=mark.mark).exists()


def test_the_lead_reads_for_whom_marks_wait_and_since_when_and_nothing_of_them(
    enter: Enter, runa: Staff, jorun: Staff, ines: Episode
) -> None:
    a_sealed_mark(runa, ines, by=jorun)
    a_sealed_mark(runa, ines, by=jorun)
    page = text_of(enter(jorun), "/tablets/")
    assert "<b>Runa Achterling</b> <span>2 marks, the oldest since " in page
    assert "Vartholm" not in page
    for address in ("/caseload/", "/day-end/"):
        assert "<b>2 marks wait for Runa Achterling.</b>" in text_of(enter(jorun), address)
    assert "wait for Runa" not in text_of(enter(runa), "/day-end/")
    assert enter(runa).get("/tablets/").status_code == 403
    heading = "Marks that wait for whoever recorded them <small>2</small>"
    assert heading in text_of(enter(jorun), "/aside/")
    assert "Marks that wait for whoever" not in text_of(enter(runa), "/aside/")


def test_two_of_one_name_are_two_and_whoever_shares_it_is_told_of_the_other(
    enter: Enter, runa: Staff, jorun: Staff, ines: Episode
) -> None:
    namesake = a_lead(name=runa.name)
    a_sealed_mark(runa, ines, by=jorun)
    a_sealed_mark(a_therapist(name=runa.name), ines, by=jorun)
    page = text_of(enter(jorun), "/tablets/")
    assert page.count("<b>Runa Achterling</b> <span>1 mark, since ") == 2
    assert "<b>2 marks wait for Runa Achterling and Runa Achterling.</b>" in text_of(enter(namesake), "/day-end/")
    a_sealed_mark(namesake, ines, by=jorun)
    assert "<b>2 marks wait for Runa Achterling and Runa Achterling.</b>" in text_of(enter(namesake), "/day-end/")


def test_a_mark_of_a_person_who_is_not_ones_own_any_more_names_nobody(enter: Enter, runa: Staff, jorun: Staff) -> None:
    """Whoever left a mark of a person reads the person's name only as long as they may see the person."""
    other = an_episode(assigned_to=a_therapist(), person=a_person(given_name="Corin", family_name="Ashgrove"))
    a_sealed_mark(runa, other, by=jorun)
    page = text_of(enter(runa))
    assert "not yours to see any more" in page
    assert "Ashgrove" not in page
    assert ticks(page) == []


def test_what_cannot_be_read_can_only_be_dropped(enter: Enter, runa: Staff, jorun: Staff, ines: Episode) -> None:
    """Hung on another's name on its way: it opens for nobody."""
    bring(actor=jorun, marks=[sealed(jorun, ines, an_attempt(at=now()), staff=runa.reference)])
    page = text_of(enter(runa))
    assert "This cannot be read." in page
    assert ticks(page) == []
    assert "Record what is ticked" not in page
    assert "Drop it" in page


@pytest.mark.parametrize("result", ["safe", "unsafe", "stopped"])
def test_the_result_of_an_attempt_stands_there_in_a_word(
    enter: Enter, runa: Staff, jorun: Staff, ines: Episode, result: str
) -> None:
    a_sealed_mark(runa, ines, by=jorun, skill="stand_load", result=result)
    assert f'<b class="is-{result}"> {result}</b>' in text_of(enter(runa))
