"""What the lead does on Caseload: sees who waits, takes a referral, assigns, covers a leave, sets weights."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import timedelta

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from caseload.bars import load_bar
from caseload.models import AdjustmentRequest, Assignment, Cover, Episode, LoadWeight, PlannedReview, Referral
from caseload.review.reminders import scan_reviews
from caseload.words import day_words, over_words
from checklists.record.services import record_entries
from clinic import clock
from clinic.models import Staff, TrailRow
from tests.makers import (
    a_cover,
    a_lead,
    a_person,
    a_prosthetist,
    a_referral,
    a_therapist,
    ago,
    an_attempt,
    an_entry,
    an_episode,
    imported,
    now,
)

pytestmark = pytest.mark.django_db
Enter = Callable[..., Client]
TODAY = clock.local_day(clock.now(), "Europe/London")
DAY = timedelta(days=1)
SENT = {
    "given_name": "Sunniva",
    "family_name": "Kettleby",
    "born_on": "1988-03-01",
    "second_identifier": "R-4411",
    "language": "en",
    "received_on": (TODAY - 2 * DAY).isoformat(),
    "urgency": "soon",
    "level": "transfemoral",
    "side": "right",
    "features": ["lock", "yielding"],
    "reason": "To cycle to work again.",
}


def test_caseload_shows_who_waits_how_long_and_who_may_teach_them(enter: Enter) -> None:
    a_therapist(name="Jonas Wexthorn")
    a_therapist(name="Dele Morrowby", authorised=["yielding"])
    a_referral(
        a_person(given_name="Aurel", family_name="Brindlecombe"),
        features=["lock"],
        received_on=TODAY - 41 * DAY,
    )
    page = enter(a_lead()).get("/caseload/").content.decode()
    assert "Aurel Brindlecombe" in page
    assert "<b>41</b> days, routine" in page
    assert "over the limit of 28 days" in page
    row = page[page.index("Aurel") : page.index("</tr>", page.index("Aurel"))]
    assert ("Jonas Wexthorn" in row, "Dele Morrowby" in row) == (True, False)


def test_caseload_shows_loads_with_their_limit_and_who_is_over_it(enter: Enter) -> None:
    mine = a_therapist(name="Dele Morrowby", minutes_per_week=60)
    for _ in range(2):
        an_episode(assigned_to=mine, opened=now() - DAY)
    page = enter(a_lead()).get("/caseload/").content.decode()
    assert 'aria-label="4\u00a0h of 1\u00a0h carried"' in page
    assert "3\u00a0h over" in page


def test_caseload_shows_what_is_overdue_and_with_whom(enter: Enter) -> None:
    mine = a_therapist(name="Runa Achterling")
    episode = an_episode(assigned_to=mine, person=a_person(given_name="Bertil", family_name="Quaymor"))
    PlannedReview.objects.create(episode=episode, due_on=TODAY - 7 * DAY, planned_by=mine, planned_at=now())
    AdjustmentRequest.objects.create(
        episode=episode, setting="socket", text="Rotates.", asked_by=mine, asked_at=now() - 31 * DAY
    )
    page = enter(a_lead()).get("/caseload/").content.decode()
    overdue = page[page.index('id="h-overdue"') :]
    assert all(
        words in overdue for words in ("Routine review", "7 days", "Request: socket", "31 days", "Runa Achterling")
    )


def test_caseload_shows_whose_sign_off_has_lapsed(enter: Enter) -> None:
    """`turns` is valid for 365 days, `ramp_up` for 180 (the clinic's default)."""
    mine = a_therapist(name="Runa Achterling")
    episode = an_episode(assigned_to=mine, opened=now() - 500 * DAY, person=a_person(given_name="Ines"))
    signed = [an_entry("sign_off", skill=skill, by=mine, at=now() - 183 * DAY) for skill in ("turns", "ramp_up")]
    imported(mine, episode, *signed)
    page = enter(a_lead()).get("/caseload/").content.decode()
    overdue = page[page.index('id="h-overdue"') :]
    assert "Sign-off lapsed" in overdue
    assert ("Slope up" in overdue, "Figure of eight" in overdue) == (True, False)
    assert "<b>3 days</b>" in overdue


def test_caseload_costs_the_same_however_large_the_clinic(enter: Enter) -> None:
    browser, counts = enter(a_lead()), []
    for _ in range(2):
        for _ in range(3):
            an_episode(assigned_to=a_therapist())
            a_referral()
        with CaptureQueriesContext(connection) as caught:
            browser.get("/caseload/")
        counts.append(len(caught))
    assert counts[0] >= counts[1]


def test_caseload_names_whom_nobody_carries(enter: Enter) -> None:
    episode = an_episode(person=a_person(given_name="Maro"))
    Assignment.objects.filter(episode=episode).update(period=(now() - 9 * DAY, now() - DAY))
    assert "Maro Ashdown: choose a therapist" in enter(a_lead()).get("/caseload/").content.decode()


@pytest.mark.parametrize("maker", [a_therapist, a_prosthetist])
def test_caseload_is_the_leads(enter: Enter, maker: Callable[[], Staff]) -> None:
    assert enter(maker()).get("/caseload/").status_code == 403


def test_a_referral_of_somebody_new_puts_them_on_the_list(enter: Enter) -> None:
    lead = a_lead()
    browser = enter(lead)
    answer = browser.post("/caseload/referrals/", {**SENT, "site_id": str(lead.site_id)}, follow=True)
    referral = Referral.objects.get()
    assert f"Sunniva Kettleby waits, {referral.person.number}." in answer.content.decode()
    assert referral.features == ["lock", "yielding"]


def test_a_refused_referral_keeps_what_was_typed_and_says_why(enter: Enter) -> None:
    lead = a_lead()
    answer = enter(lead).post("/caseload/referrals/", {**SENT, "site_id": str(lead.site_id), "side": "both"})
    page = answer.content.decode()
    assert answer.status_code == 422
    assert "both sides" in page
    assert 'value="Kettleby"' in page
    assert not Referral.objects.exists()


def test_somebody_is_taken_whose_level_nobody_knows_yet_and_assigning_says_so(enter: Enter) -> None:
    lead = a_lead()
    browser = enter(lead)
    assert '<option value="unknown">not known yet</option>' in browser.get("/caseload/referrals/").content.decode()
    browser.post("/caseload/referrals/", {**SENT, "level": "unknown", "site_id": str(lead.site_id)})
    page = browser.get(f"/caseload/referrals/{Referral.objects.get().pk}/assign/").content.decode()
    assert "<dt>Amputation level</dt><dd>not known yet</dd>" in page


def test_somebody_known_is_looked_up_and_keeps_their_number(enter: Enter) -> None:
    lead, person = a_lead(), a_person(given_name="Hamid", family_name="Larkspar")
    browser = enter(lead)
    found = browser.post("/caseload/referrals/known/", {"q": "lark"}).content.decode()
    assert f"?person={person.pk}" in found
    said = {key: SENT[key] for key in ("received_on", "urgency", "level", "side", "features", "reason")}
    browser.post(f"/caseload/referrals/?person={person.pk}", {**said, "site_id": str(lead.site_id)})
    assert Referral.objects.get().person == person
    fresh = browser.get("/caseload/referrals/").content.decode()
    assert ("Known here?" in fresh, "autofocus" in fresh) == (True, False)
    assert 'href="/caseload/referrals/?new=1"' in found
    new = browser.get("/caseload/referrals/?new=1").content.decode()
    assert "Known here?" not in new, "they were looked up"
    assert re.search(r'name="given_name"[^>]* autofocus', new)


def test_what_cover_adds_beyond_the_hours_somebody_has_is_drawn_as_beyond() -> None:
    within, beyond = load_bar(120, 240, 0, 300), load_bar(120, 420, 0, 300)
    assert (within.count("ms-bar-add"), "ms-bar-add-over" in within) == (1, False)
    assert re.findall(r'class="ms-bar-add( ms-bar-add-over)?"', beyond) == ["", " ms-bar-add-over"]
    assert re.findall(r'class="ms-bar-add( ms-bar-add-over)?"', load_bar(360, 420, 0, 300)) == [" ms-bar-add-over"]


def test_assigning_shows_load_and_papers_first_and_opens_the_episode(enter: Enter) -> None:
    able, unable = a_therapist(name="Jonas Wexthorn"), a_therapist(name="Dele Morrowby", authorised=["lock"])
    referral, lead = a_referral(features=["free_swing"]), a_lead()
    browser = enter(lead)
    page = browser.get(f"/caseload/referrals/{referral.pk}/assign/").content.decode()
    assert "lacks free swing" in page
    assert page.index("Jonas Wexthorn") < page.index("Dele Morrowby")
    answer = browser.post(
        f"/caseload/referrals/{referral.pk}/assign/", {"therapist_id": str(able.pk), "version": referral.version}
    )
    assert answer.status_code == 302
    episode = Episode.objects.get(referral=referral)
    assert (episode.assignments.get().staff, episode.side) == (able, "left")
    assert unable.assignments.count() == 0


def test_a_referral_that_was_changed_meanwhile_is_read_again_before_it_is_assigned(enter: Enter) -> None:
    mine, referral = a_therapist(), a_referral()
    browser, address = enter(a_lead()), f"/caseload/referrals/{referral.pk}/assign/"
    sent = {"therapist_id": str(mine.pk), "version": referral.version - 1}
    answer = browser.post(address, sent)
    assert (answer.status_code, Episode.objects.count()) == (412, 0)
    assert f'name="version" value="{referral.version}"' in answer.content.decode()
    assert browser.post(address, {**sent, "version": ""}).status_code == 422
    assert browser.post(address, {**sent, "version": referral.version}).status_code == 302


def test_assigning_twice_from_two_windows_opens_one_episode(enter: Enter) -> None:
    mine, referral = a_therapist(), a_referral()
    browser, address = enter(a_lead()), f"/caseload/referrals/{referral.pk}/assign/"
    sent = {"therapist_id": str(mine.pk), "version": referral.version}
    statuses = [browser.post(address, sent).status_code for _ in range(2)]
    assert statuses == [302, 409]
    assert Episode.objects.count() == 1


def test_a_leave_is_covered_from_one_form_and_an_overlap_names_who_stands_in(enter: Enter) -> None:
    away, cover = a_therapist(name="Runa Achterling"), a_therapist(name="Lucie Amberwick")
    episode = an_episode(assigned_to=away)
    browser = enter(a_lead())
    said = {
        "away_id": str(away.pk),
        "episode_ids": [str(episode.pk)],
        "staff_id": str(cover.pk),
        "first_day": (TODAY + DAY).isoformat(),
        "last_day": (TODAY + 10 * DAY).isoformat(),
    }
    done = browser.post("/caseload/cover/", said, follow=True).content.decode()
    assert "Lucie Amberwick covers Runa Achterling, " in done
    again = browser.post("/caseload/cover/", said)
    assert again.status_code == 409
    assert "Lucie Amberwick covers Robin Ashdown already" in again.content.decode()
    assert Cover.objects.count() == 1
    assert "covered by Lucie Amberwick (1 person)" in browser.get("/caseload/").content.decode()
    beside, row = browser.get("/caseload/cover/").content.decode(), Cover.objects.get()
    assert "Covered already" in beside
    assert f"/people/{row.episode_id}/plan/cover/{row.pk}/end/" in beside


def test_before_cover_is_arranged_the_lead_sees_who_may_not_teach_whom_and_the_unregistered_come_last(
    enter: Enter,
) -> None:
    away = a_therapist(name="Runa Achterling")
    for given, features in (("Ines", ["free_swing"]), ("Bertil", ["lock"])):
        person = a_person(given_name=given, family_name="Vartholm")
        Episode.objects.filter(pk=an_episode(assigned_to=away, person=person).pk).update(features=features)
    a_therapist(name="Tove Ellmarsh", registered=False)
    a_therapist(name="Lucie Amberwick", authorised=["lock"])
    a_therapist(name="Jonas Wexthorn")
    page = " ".join(enter(a_lead()).get(f"/caseload/cover/?away={away.pk}").content.decode().split())
    assert "may not teach 1 of 2: Ines Vartholm (free swing)" in page
    choices = page[page.index("<fieldset") :]
    order = [choices.index(f"<span>{name}</span>") for name in ("Jonas Wexthorn", "Lucie Amberwick", "Tove Ellmarsh")]
    assert order == sorted(order)
    assert "no current registration: may teach nobody" in choices[order[-1] :]
    assert "may teach all 2" in choices[order[0] : order[1]]


def test_all_cover_of_somebody_who_is_back_ends_in_one_go_and_no_other(enter: Enter) -> None:
    away, other = a_therapist(name="Runa Achterling"), a_therapist(name="Dele Morrowby")
    lucie = a_therapist(name="Lucie Amberwick")
    days = {"start": now() - DAY, "end": clock.day_starts(TODAY + 5 * DAY, "Europe/London")}
    for owner in (away, away, other):
        a_cover(an_episode(assigned_to=owner), lucie, **days)
    browser = enter(a_lead())
    last = day_words(TODAY + 4 * DAY)
    listed = browser.get("/caseload/cover/").content.decode()
    assert "Lucie Amberwick covers 2 people, " in listed
    assert f"{last}</p>" in listed, "the last day as it was typed, not the midnight after it"
    browser.post(f"/caseload/cover/{away.pk}/end/")
    standing = Cover.objects.filter(period__endswith__gt=clock.now())
    assert [cover.episode.assignments.get().staff for cover in standing] == [other]


def test_weights_are_the_clinics_own(enter: Enter) -> None:
    said = {f"{phase}_{part}": 10 for phase in ("new", "training", "keeping", "paused") for part in ("one", "extra")}
    browser = enter(a_lead())
    assert browser.post("/caseload/weights/", {**said, "new_one": 150}).status_code == 302
    assert LoadWeight.objects.get(phase="new").minutes_per_week == 150
    assert browser.post("/caseload/weights/", {**said, "new_one": -1}).status_code == 422


def test_reassigning_from_an_old_page_is_refused_in_words(enter: Enter) -> None:
    episode, lead = an_episode(), a_lead()
    seen = Assignment.objects.get(episode=episode)
    to = [a_therapist(name="Jonas Wexthorn"), a_therapist()]
    browser, address = enter(lead), f"/people/{episode.pk}/plan/reassign/"
    said = {"standing_id": str(seen.pk), "version": seen.version, "reason": "Nearer to home."}
    assert browser.post(address, {**said, "staff_id": str(to[0].pk)}).status_code == 302
    answer = browser.post(address, {**said, "staff_id": str(to[1].pk)})
    assert answer.status_code == 409
    assert "Jonas Wexthorn carries them now" in answer.content.decode()


def test_handover_of_a_colleague_shows_a_therapist_nobody_whom_they_do_not_cover(enter: Enter) -> None:
    away, other = a_therapist(name="Runa Achterling"), a_therapist()
    an_episode(assigned_to=away, person=a_person(given_name="Maro"))
    pages = [enter(staff).get(f"/caseload/handover/{away.pk}/").content.decode() for staff in (a_lead(), away, other)]
    assert ["Maro" in page for page in pages] == [True, True, False]


def test_a_handover_says_what_is_next_what_to_check_first_and_leaves_a_trail_row(enter: Enter) -> None:
    mine = a_therapist()
    episode = an_episode(assigned_to=mine, person=a_person(given_name="Maro"))
    imported(mine, episode, an_entry("sign_off", skill="don_check", by=mine, at=now() - DAY))
    page = enter(mine).get("/caseload/handover/").content.decode()
    assert "<b>Sitting down and rising, both hands on the bars.</b>" in page
    assert "start-of-session check" in page
    assert "h a week</small>" in page.replace("\n", ""), "what moving them would take away"
    row = TrailRow.objects.get(actor=mine, verb="handover.opened")
    assert row.detail == {"people": 1}


def test_ending_a_referral_needs_a_reason(enter: Enter) -> None:
    referral, browser = a_referral(), enter(a_lead())
    address = f"/caseload/referrals/{referral.pk}/end/"
    assert browser.post(address, {"reason": " ", "version": 1}).status_code == 422
    assert browser.post(address, {"reason": "Moved away.", "version": 1}).status_code == 302
    assert TrailRow.objects.filter(verb="referral.ended").count() == 1


def test_a_cover_without_an_end_is_covered_already_and_one_that_is_over_is_not(enter: Enter) -> None:
    lucie = a_therapist(name="Lucie Amberwick")
    still = an_episode(person=a_person(given_name="Ines", family_name="Vartholm"))
    over = an_episode(person=a_person(given_name="Corin", family_name="Ashgrove"))
    a_cover(still, lucie, start=now() - DAY, end=None)
    a_cover(over, lucie, start=now() - 9 * DAY, end=now() - DAY)
    beside = enter(a_lead()).get("/caseload/cover/").content.decode()
    covered = beside[beside.index("Covered already") :]
    assert ("Ines Vartholm" in covered, "Corin Ashgrove" in covered) == (True, False)


def test_an_overdue_review_leads_to_where_it_is_answered(enter: Enter) -> None:
    carrier, lead = a_therapist(), a_lead()
    late = an_episode(assigned_to=carrier)
    PlannedReview.objects.create(episode=late, due_on=TODAY - 30 * DAY, planned_by=carrier, planned_at=now() - 40 * DAY)
    browser = enter(lead)
    assert f'href="/people/{late.pk}/plan/#plan-reviews"' in browser.get("/caseload/").content.decode()
    assert 'id="plan-reviews"' in browser.get(f"/people/{late.pk}/plan/").content.decode()


def test_caseload_begins_with_what_is_urgent_in_the_words_and_numbers_of_today_and_the_badge(enter: Enter) -> None:
    runa = a_therapist()
    ines = an_episode(assigned_to=runa, person=a_person(given_name="Ines", family_name="Vartholm"))
    locked = an_entry("mode_set", mode="locked", at=ago(minutes=2))
    record_entries(actor=runa, episode_id=ines.pk, entries=[locked, an_attempt("stand_load")])
    record_entries(actor=runa, episode_id=ines.pk, entries=[an_entry("near_miss", at=ago(days=9))])
    browser = enter(a_lead())
    badge = browser.get("/alerts/tally/").json()["critical"]
    for address in ("/caseload/", "/"):
        top = " ".join(browser.get(address).content.decode().split())
        assert f"{badge} critical alert.</b> Ines Vartholm: lock not verified" in top
        assert "1 late fact waits for your decision.</b> Vartholm" in top


def test_the_name_of_somebody_who_waits_leads_to_their_referral(enter: Enter) -> None:
    referral = a_referral(a_person(given_name="Aurel"), reason="To cycle to work again.", features=["lock"])
    browser, address = enter(a_lead()), f"/caseload/referrals/{referral.pk}/assign/"
    assert f'<a href="{address}">Aurel Ashdown</a>' in browser.get("/caseload/").content.decode()
    page = browser.get(address).content.decode()
    read = page[page.index('id="h-referral"') : page.index("</section>")]
    assert all(words in read for words in ("To cycle to work again.", "Received on", "Referred by", "lock"))


def test_a_review_that_came_to_the_lead_says_what_to_decide_and_has_a_button_for_it(enter: Enter) -> None:
    episode = an_episode(assigned_to=(runa := a_therapist()))
    row = PlannedReview.objects.create(episode=episode, due_on=TODAY - 9 * DAY, planned_by=runa, planned_at=now())
    browser, address = enter(a_lead()), f"/people/{episode.pk}/plan/reviews/{row.pk}/put-off/"
    assert address not in browser.get("/caseload/").content.decode()
    scan_reviews(now())
    page = browser.get("/caseload/").content.decode()
    assert f"due {day_words(TODAY - 9 * DAY)}; reminders went unanswered: yours to decide, a new date or a call" in page
    assert f'href="{address}">New date' in page
    assert "New date for the review" in browser.get(address).content.decode()


def test_hours_beyond_agree_with_the_hours_that_are_shown() -> None:
    """1,670 of 1,300 minutes are shown as 27.8 h of 21.7 h: 6.1 h, though 370 minutes alone would be 6.2 h."""
    assert [over_words(minutes, 1300) for minutes in (1668, 1670)] == ["6.1\u00a0h over"] * 2


def test_a_therapists_people_are_moved_from_the_load_and_from_their_own_page(enter: Enter) -> None:
    episode = an_episode(assigned_to=(runa := a_therapist()))
    link = f'href="/people/{episode.pk}/plan/reassign/"'
    browser = enter(a_lead())
    assert f'href="/caseload/handover/{runa.pk}/"' in browser.get("/caseload/").content.decode()
    pages = (f"/caseload/handover/{runa.pk}/", f"/people/{episode.pk}/", f"/people/{episode.pk}/plan/")
    assert [link in browser.get(address).content.decode() for address in pages] == [True] * 3
    theirs = enter(runa)
    assert [link in theirs.get(address).content.decode() for address in pages] == [False] * 3
