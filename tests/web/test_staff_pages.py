"""Staff pages: what a clinic lead sees and does, and that nobody else does it."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import timedelta
from uuid import uuid4

import pytest
from django.test import Client

from clinic.language import dates
from clinic.models import Authorisation, Registration, RoleTerm, Site, Staff, TrailRow
from clinic.staff.ended import forget_ended
from clinic.staff.roles import Role
from tests.makers import (
    a_lead,
    a_prosthetist,
    a_records_officer,
    a_site,
    a_therapist,
    an_assistant,
    an_authorisation,
    now,
)

pytestmark = pytest.mark.django_db
Enter = Callable[..., Client]
TODAY = now().date()
SOON, LATER = TODAY + timedelta(days=10), TODAY + timedelta(days=400)


def text_of(browser: Client, address: str) -> str:
    """The words of a page, without its tags."""
    answer = browser.get(address)
    assert answer.status_code == 200, answer.content.decode()
    return " ".join(re.sub(r"<[^>]+>", " ", answer.content.decode()).split())


def new_member(site: Site, **more: object) -> dict[str, object]:
    return {
        "name": "Dele Morrowby",
        "username": "dele",
        "email": "",
        "site_id": str(site.pk),
        "roles": ["therapist"],
        "minutes_per_week": 1200,
        **more,
    }


def test_a_paper_that_ends_soon_says_so_in_a_word(enter: Enter) -> None:
    therapist = a_therapist(name="Runa Achterling", authorised=[])
    an_authorisation(therapist, "free_swing", expires_on=SOON)
    assert "ends soon" in text_of(enter(a_lead(authorised=[])), "/staff/?role=therapist")


def test_an_authorisation_whose_last_day_was_yesterday_has_ended(enter: Enter) -> None:
    therapist = a_therapist(authorised=[])
    an_authorisation(therapist, "lock", expires_on=TODAY - timedelta(days=1))
    assert "ended" in text_of(enter(a_lead()), f"/staff/{therapist.pk}/")


def test_an_authorisation_still_holds_on_its_last_day(enter: Enter) -> None:
    therapist = a_therapist(authorised=[], registered=False)
    an_authorisation(therapist, "lock", expires_on=TODAY)
    page = text_of(enter(a_lead()), f"/staff/{therapist.pk}/")
    assert "ends soon" in page
    assert f"ended {TODAY.day}" not in page


def test_the_list_asks_the_database_no_more_for_twenty_than_for_two(
    enter: Enter, django_assert_max_num_queries: Callable[..., object]
) -> None:
    browser = enter(a_lead())
    for _ in range(20):
        a_therapist()
    with django_assert_max_num_queries(16):  # type: ignore[attr-defined]  # the fixture has no type
        browser.get("/staff/")


def test_a_new_member_gets_a_password_shown_this_once(enter: Enter) -> None:
    browser = enter(a_lead())
    page = browser.post("/staff/add/", new_member(a_site())).content.decode()
    password = re.search(r"<dd>(\w{5}-\w{5}-\w{5}-\w{5})</dd>", page)
    assert password is not None
    dele = Staff.objects.get(username="dele")
    assert dele.check_password(password[1])
    assert page.index("I have written it down") < page.index("<h2>Before they sign anything"), "no way on without it"
    for need in (f"/staff/{dele.pk}/registrations/add/", f"/staff/{dele.pk}/authorisations/add/", "/identities/"):
        assert f'href="{need}"' in page, "what they need before they sign is one press away"
    assert "Another lead than you checks who they are" in page
    a_lead(name="Hale Undermost")
    page = browser.post(f"/staff/{dele.pk}/password/").content.decode()
    assert "<li>Hale Undermost can check who they are:" in page, "and not whoever gave them the password"
    theirs = text_of(browser, f"/staff/{dele.pk}/")
    assert (password[1] in theirs, "Password made, not yet their own" in theirs) == (False, True)


def test_a_sign_in_name_that_is_taken_is_refused_and_the_form_keeps_what_was_typed(enter: Enter) -> None:
    a_therapist(username="Dele")
    answer = enter(a_lead()).post("/staff/add/", new_member(a_site()))
    assert answer.status_code == 409
    assert "is somebody&#x27;s already" in answer.content.decode()
    assert 'value="Dele Morrowby"' in answer.content.decode()


def test_two_leads_editing_one_person_the_second_is_told(enter: Enter) -> None:
    therapist, browser = a_therapist(), enter(a_lead())
    said = {"name": "First", "email": "", "site_id": str(therapist.site_id), "minutes_per_week": 1, "version": 1}
    assert browser.post(f"/staff/{therapist.pk}/edit/", said).status_code == 302
    second = browser.post(f"/staff/{therapist.pk}/edit/", {**said, "name": "Second"})
    assert second.status_code == 412
    assert "Somebody else changed First meanwhile" in second.content.decode()
    therapist.refresh_from_db()
    assert therapist.name == "First"


def test_authorising_and_withdrawing_leave_rows_and_stay_visible(enter: Enter) -> None:
    lead, therapist = a_lead(), a_therapist(authorised=[])
    browser, page = enter(lead), f"/staff/{therapist.pk}/"
    browser.post(f"{page}authorisations/add/", {"feature": "lock", "starts_on": TODAY, "expires_on": LATER})
    paper = Authorisation.objects.get(staff=therapist)
    assert paper.granted_by == lead
    browser.post(f"{page}authorisations/{paper.pk}/withdraw/", {"reason": "Refresher due."})
    assert "withdrawn" in text_of(browser, page)
    rows = TrailRow.objects.filter(subject_id=therapist.reference).order_by("number")
    assert list(rows.values_list("verb", flat=True)) == ["authorisation.granted", "authorisation.withdrawn"]


def test_what_ended_is_renewed_from_its_own_line_unless_a_later_one_stands(enter: Enter) -> None:
    staff = a_therapist(authorised=["yielding"])
    for feature in ("lock", "yielding"):
        an_authorisation(staff, feature, expires_on=TODAY - timedelta(days=1))
    browser, address = enter(a_lead()), f"/staff/{staff.pk}/authorisations/add/?feature="
    page = browser.get(f"/staff/{staff.pk}/").content.decode()
    assert (f'href="{address}lock"' in page, f'href="{address}yielding"' in page) == (True, False)
    form = browser.get(f"{address}lock").content.decode()
    assert re.search(r'value="lock"[^>]* checked', form)
    assert "Adjustable resistance needs no authorisation." in form


def test_an_authorisation_that_is_past_already_is_refused(enter: Enter) -> None:
    therapist = a_therapist(authorised=[])
    past = {"feature": "lock", "starts_on": TODAY - timedelta(days=9), "expires_on": TODAY - timedelta(days=1)}
    answer = enter(a_lead()).post(f"/staff/{therapist.pk}/authorisations/add/", past)
    assert answer.status_code == 422
    assert not Authorisation.objects.filter(staff=therapist).exists()


def test_a_registration_whose_last_day_lies_before_its_first_is_refused(enter: Enter) -> None:
    therapist = a_therapist(registered=False)
    said = {"number": "P 1", "starts_on": TODAY, "expires_on": TODAY - timedelta(days=1)}
    assert enter(a_lead()).post(f"/staff/{therapist.pk}/registrations/add/", said).status_code == 422
    assert not Registration.objects.filter(staff=therapist).exists()


def test_a_role_that_is_held_already_is_refused_by_the_database(enter: Enter) -> None:
    therapist = a_therapist()
    answer = enter(a_lead()).post(f"/staff/{therapist.pk}/roles/add/", {"role": "therapist", "starts_on": TODAY})
    assert answer.status_code == 409
    assert RoleTerm.objects.filter(staff=therapist).count() == 1


def test_a_role_that_ends_today_is_held_today_and_not_tomorrow(enter: Enter) -> None:
    therapist = a_therapist()
    term = therapist.role_terms.get()
    enter(a_lead()).post(f"/staff/{therapist.pk}/roles/{term.pk}/end/", {"last_day": TODAY})
    fresh = Staff.objects.get(pk=therapist.pk)
    assert fresh.roles_on(TODAY) == {Role.THERAPIST}
    assert fresh.roles_on(TODAY + timedelta(days=1)) == frozenset()


def test_who_ends_a_role_learns_that_the_account_stays_open_until_somebody_closes_it(enter: Enter) -> None:
    therapist, lead = a_therapist(), enter(a_lead())
    address = f"/staff/{therapist.pk}/roles/{therapist.role_terms.get().pk}/end/"
    stays = "The account does not: it stays open, and they stay with whom they carry, until somebody closes it."
    assert stays in text_of(lead, address)
    last_day = TODAY + timedelta(days=4)
    done = lead.post(address, {"last_day": last_day})
    assert stays in text_of(lead, done["Location"])
    forget_ended(now() + timedelta(days=6))
    fresh = Staff.objects.get(pk=therapist.pk)
    assert fresh.roles_on(TODAY + timedelta(days=6)) == frozenset()
    assert fresh.is_active, "what the page says is what the code does"


def listed(browser: Client, staff: Staff) -> str:
    """What the list says they are."""
    page = " ".join(browser.get("/staff/").content.decode().split())
    row = page.split(f'href="/staff/{staff.pk}/"')[1].split("</tr>")[0]
    said = re.search(r"<td>(.*?)<br><span", row)
    assert said
    return said[1]


def test_the_list_says_to_which_day_a_role_is_held_and_the_page_and_the_account_review_say_the_same_day(
    enter: Enter,
) -> None:
    hale, browser = a_therapist(authorised=[]), enter(a_lead())
    assert listed(browser, hale) == "therapist"
    last = TODAY + timedelta(days=4)
    browser.post(f"/staff/{hale.pk}/roles/{hale.role_terms.get().pk}/end/", {"last_day": last})
    assert listed(browser, hale) == f"therapist, to {dates.day(last)}"
    assert f" to {dates.day(last)}, that day included" in text_of(browser, f"/staff/{hale.pk}/")
    assert f"therapist ends on {dates.day(last)}" in text_of(browser, "/staff/review/")


def test_the_list_says_from_when_a_role_is_held_that_begins_later(enter: Enter) -> None:
    hale, browser = an_assistant(), enter(a_lead())
    hale.role_terms.all().delete()
    assert listed(browser, hale) == "no role today"
    hale.role_terms.create(role=Role.THERAPIST, period=(SOON, None))
    hale.role_terms.create(role=Role.ASSISTANT, period=(TODAY - timedelta(days=9), TODAY))
    assert listed(browser, hale) == f"therapist, from {dates.day(SOON)}"
    days = {"starts_on": SOON, "ends_on": LATER}
    browser.post(f"/staff/{hale.pk}/roles/add/", {"role": "assistant", **days})
    spans = f"assistant, from {dates.day(SOON)} to {dates.day(LATER)}<br>therapist, from {dates.day(SOON)}"
    assert listed(browser, hale) == spans


def test_a_role_is_in_the_list_on_its_first_day_and_on_its_last(enter: Enter) -> None:
    hale, browser = an_assistant(), enter(a_lead())
    hale.role_terms.update(period=(TODAY, TODAY + timedelta(days=1)))
    assert listed(browser, hale) == f"assistant, to {dates.day(TODAY)}"


def test_terms_that_follow_each_other_without_a_day_between_are_one(enter: Enter) -> None:
    hale, browser = an_assistant(), enter(a_lead())
    term = hale.role_terms.get()
    hale.role_terms.update(period=(term.period.lower, SOON))
    hale.role_terms.create(role=Role.ASSISTANT, period=(SOON, LATER))
    assert listed(browser, hale) == f"assistant, to {dates.day(LATER - timedelta(days=1))}"
    hale.role_terms.create(role=Role.ASSISTANT, period=(LATER + timedelta(days=1), None))
    after = f"assistant, from {dates.day(LATER + timedelta(days=1))}"
    assert listed(browser, hale) == f"assistant, to {dates.day(LATER - timedelta(days=1))}<br>{after}"


def test_the_only_lead_cannot_close_their_own_account(enter: Enter) -> None:
    lead = a_lead()
    answer = enter(lead).post(f"/staff/{lead.pk}/end/", {"reason": "Leaving."})
    assert answer.status_code == 409
    assert "is the only clinic lead" in answer.content.decode()


def test_a_closed_account_is_signed_out_at_once_and_listed_as_former(enter: Enter) -> None:
    therapist = a_therapist(name="Dele Morrowby")
    theirs, browser = enter(therapist), enter(a_lead())
    browser.post(f"/staff/{therapist.pk}/end/", {"reason": "Moved away."})
    assert theirs.get("/password/").status_code == 302
    assert f"/staff/{therapist.pk}/" not in browser.get("/staff/").content.decode()
    assert f"/staff/{therapist.pk}/" in browser.get("/staff/?former").content.decode()


def test_references_are_never_given_twice(enter: Enter) -> None:
    browser, site = enter(a_lead()), a_site()
    for number in range(3):
        browser.post("/staff/add/", new_member(site, username=f"new{number}"))
    added = Staff.objects.filter(username__startswith="new")
    assert len({staff.reference for staff in added}) == 3


DEEDS = ["edit/", "end/", "password/", "roles/add/", "registrations/add/", "authorisations/add/"]


@pytest.mark.parametrize("maker", [a_therapist, a_prosthetist, an_assistant, a_records_officer])
def test_nobody_but_a_lead_sees_or_changes_staff(enter: Enter, maker: Callable[..., Staff]) -> None:
    therapist, browser = a_therapist(), enter(maker())
    pages = ["/staff/", "/staff/add/", "/staff/sites/add/", *[f"/staff/{therapist.pk}/{deed}" for deed in DEEDS]]
    for page in pages:
        assert browser.get(page).status_code in (403, 404), page
        assert browser.post(page, {"reason": "x"}).status_code in (403, 404), page
    assert TrailRow.objects.filter(verb="access.refused").count() == 2 * len(pages)


def test_a_member_of_staff_who_is_not_there_is_not_found(enter: Enter) -> None:
    assert enter(a_lead()).get(f"/staff/{uuid4()}/").status_code == 404
