"""Cover of a leave before it begins: what it adds to whose hours, of whom a page reckons, and who is left over."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta

import pytest
from django.test import Client
from django.urls import reverse

from caseload.load.peak import Peak, Stand, peak
from caseload.load.phase import DEFAULTS
from caseload.load.selectors import Load, loads
from caseload.models import Assignment, Episode
from caseload.words import day_words
from clinic import clock
from clinic.models import Staff
from tests.makers import a_cover, a_lead, a_therapist, an_episode, now

pytestmark = pytest.mark.django_db
Enter = Callable[..., Client]
ZONE = "Europe/London"
TODAY = clock.local_day(clock.now(), ZONE)
DAY = timedelta(days=1)
NEW = DEFAULTS["new"].one
AT = datetime(2026, 11, 26, 9, tzinfo=UTC)


def in_days(days: int) -> datetime:
    return clock.day_starts(TODAY + days * DAY, ZONE)


def some_of(carrier: Staff, many: int) -> list[Episode]:
    """New people: two hours a week each."""
    return [an_episode(assigned_to=carrier, opened=now() - 9 * DAY) for _ in range(many)]


def text(page: bytes) -> str:
    return " ".join(page.decode().replace("\u00a0", " ").split())


def row_of(page: str, name: str) -> str:
    """What stands of somebody among the candidates, or in the list of loads."""
    start = next(at for at in (page.find(f"<span>{name}</span>"), page.find(f"<h3>{name}</h3>")) if at >= 0)
    return re.split(r'class="candidate"|class="load-who"|</fieldset>', page[start:])[0]


def stand(first: int, last: int | None, minutes: int) -> Stand:
    """From the first day to the last, counted from the day of AT, which is 0."""
    begins = clock.day_starts(AT.date() + first * DAY, ZONE)
    return Stand(begins, None if last is None else clock.day_starts(AT.date() + (last + 1) * DAY, ZONE), ZONE, minutes)


@pytest.mark.parametrize(
    ("stands", "found"),
    [
        ([], Peak(0)),
        ([stand(-1, 3, 60)], Peak(60)),
        ([stand(1, None, 60)], Peak(60, date(2026, 11, 27))),
        ([stand(1, 3, 60), stand(4, 6, 60)], Peak(60, date(2026, 11, 27))),
        ([stand(0, 3, 60), stand(4, 6, 60)], Peak(60)),
        ([stand(0, 3, 60), stand(3, 6, 60)], Peak(120, date(2026, 11, 29))),
        ([stand(0, None, 20), stand(1, 2, 60), stand(5, 6, 90)], Peak(110, date(2026, 12, 1))),
    ],
)
def test_the_most_at_one_time_and_from_when_where_that_is_not_today(stands: list[Stand], found: Peak) -> None:
    assert peak(stands, at=AT) == found


def test_a_cover_from_tomorrow_is_in_the_bar_and_in_the_words_of_every_page(enter: Enter) -> None:
    runa, lucie = a_therapist(name="Runa Achterling"), a_therapist(name="Lucie Amberwick", minutes_per_week=300)
    some_of(lucie, 1)
    first, second = some_of(runa, 2)
    a_cover(first, lucie, start=in_days(1), end=in_days(9))
    browser, tomorrow = enter(a_lead()), day_words(TODAY + DAY)
    theirs = row_of(text(browser.get("/caseload/").content), "Lucie Amberwick")
    assert f"<b>2 h</b> of 5 h, <b>4 h</b> with cover from {tomorrow}" in theirs
    assert 'aria-label="2 h of 5 h carried, 4 h with what is added"' in theirs
    assert "ms-bar-add" in theirs
    for address in (
        f"/caseload/cover/?away={runa.pk}",
        f"/people/{second.pk}/plan/cover/",
        f"/people/{second.pk}/plan/reassign/",
    ):
        choice = row_of(text(browser.get(address).content), "Lucie Amberwick")
        assert f"2 h, <b>6 h</b> with them and with cover from {tomorrow}, of 5 h" in choice, address
        assert "1 h over" in choice, address
        assert "6 h with what is added" in choice, address


def test_covers_one_after_the_other_are_not_added_up_and_those_at_one_time_are(enter: Enter) -> None:
    runa, lucie = a_therapist(name="Runa Achterling"), a_therapist(name="Lucie Amberwick")
    one, two, three = some_of(runa, 3)
    lead = a_lead()

    def read() -> Load:
        return next(load for load in loads(lead, at=clock.now()) if load.staff_id == lucie.pk)

    a_cover(one, lucie, start=in_days(1), end=in_days(4))
    a_cover(two, lucie, start=in_days(4), end=in_days(9))
    assert (read().covered, read().with_cover, read().most_from) == (0, NEW, TODAY + DAY)
    a_cover(three, lucie, start=in_days(6), end=in_days(7))
    assert (read().with_cover, read().most_from) == (2 * NEW, TODAY + 6 * DAY)


def test_a_cover_that_begins_later_than_four_weeks_or_of_whom_nobody_carries_adds_nothing() -> None:
    runa, lucie = a_therapist(), a_therapist(name="Lucie Amberwick")
    far, loose = some_of(runa, 2)
    a_cover(far, lucie, start=in_days(40), end=in_days(50))
    a_cover(loose, lucie, start=in_days(1), end=in_days(5))
    Assignment.objects.filter(episode=loose).update(period=(now() - 9 * DAY, now() - DAY))
    assert {load.with_cover for load in loads(a_lead(), at=clock.now()) if load.staff_id == lucie.pk} == {0}


def test_whoever_is_ticked_and_covered_by_the_same_colleague_is_counted_once(enter: Enter) -> None:
    runa, lucie = a_therapist(name="Runa Achterling"), a_therapist(name="Lucie Amberwick")
    for one in some_of(runa, 2):
        a_cover(one, lucie, start=in_days(1), end=in_days(4))
    page = text(enter(a_lead()).get(f"/caseload/cover/?away={runa.pk}").content)
    assert "Nobody is ticked: hours and who may teach are shown for all 2." in page
    assert "0 h, <b>4 h</b> with them, of" in row_of(page, "Lucie Amberwick")


def test_the_page_reckons_of_those_whom_the_address_names_as_ticked(enter: Enter) -> None:
    runa, lucie = a_therapist(name="Runa Achterling"), a_therapist(name="Lucie Amberwick", authorised=["lock"])
    ines, bertil = some_of(runa, 2)
    Episode.objects.filter(pk=ines.pk).update(features=["free_swing"])
    Episode.objects.filter(pk=bertil.pk).update(features=["lock"])
    browser, address = enter(a_lead()), f"/caseload/cover/?away={runa.pk}"
    opened = text(browser.get(address).content)
    assert "are shown for the 2 ticked of 2." in opened
    assert "may not teach 1 of 2" in row_of(opened, lucie.name)
    asked = text(browser.get(f"{address}&ticked=&episode_ids={bertil.pk}&episode_ids={an_episode().pk}").content)
    assert re.findall(r'name="episode_ids" value="([^"]+)"[^>]* checked', asked) == [str(bertil.pk)]
    assert "are shown for the 1 ticked of 2." in asked
    row = row_of(asked, lucie.name)
    assert ("<b>2 h</b> with them" in row, "may teach this knee" in row) == (True, True)
    nobody = text(browser.get(f"{address}&ticked=").content)
    assert "Nobody is ticked: hours and who may teach are shown for all 2." in nobody
    assert "<b>4 h</b> with them" in row_of(nobody, lucie.name)
    assert "<noscript>" in opened, "without scripts it is said that ticks change nothing"


def test_who_is_covered_by_nobody_is_counted_beside_what_is_covered_and_leads_to_their_cover(enter: Enter) -> None:
    runa, dele, lucie = (a_therapist(name=name) for name in ("Runa Achterling", "Dele Morrowby", "Lucie Amberwick"))
    covered = [*some_of(runa, 3)[:2], *some_of(dele, 1)]
    for one in covered:
        a_cover(one, lucie, start=in_days(1), end=in_days(9))
    page = text(enter(a_lead()).get("/caseload/cover/").content)
    beside = page[page.index("Covered already") :]
    assert "1 of their 3 people is covered by nobody" in beside
    assert beside.count("covered by nobody") == 1, "all of the other's are covered"
    assert f'href="/caseload/cover/?away={runa.pk}">Arrange for them<span class="unseen">: {runa.name}</span>' in beside
    assert f'/caseload/cover/?away={dele.pk}"' not in beside
    rest = text(enter(a_lead()).get(f"/caseload/cover/?away={runa.pk}").content)
    days = [f'name="{name}" value="{TODAY + ahead * DAY}"' for name, ahead in (("first_day", 1), ("last_day", 8))]
    assert [day in rest for day in days] == [True, True], "the days of the leave are not asked for twice"


def test_a_cover_that_stands_says_whom_they_may_not_teach(enter: Enter) -> None:
    """Covered is not the same as taught: it is said where the cover stands, and not only where one is chosen."""
    runa, lucie = a_therapist(name="Runa Achterling"), a_therapist(name="Lucie Amberwick", authorised=["lock"])
    ines, bertil = some_of(runa, 2)
    Episode.objects.filter(pk=ines.pk).update(features=["free_swing"])
    Episode.objects.filter(pk=bertil.pk).update(features=["lock"])
    for one in (ines, bertil):
        a_cover(one, lucie, start=in_days(0), end=in_days(4))
    browser = enter(a_lead())
    page = text(browser.get("/caseload/cover/").content)
    beside = page[page.index("Covered already") :]
    assert f"may not teach 1 of 2: {ines.person.full_name} (free swing)" in beside
    assert beside.count("may not teach this knee: free swing") == 1
    loads_of_both = text(browser.get("/caseload/").content)
    assert loads_of_both.count("(2 people; may not teach 1 of them)") == 2


def test_whoever_cannot_sign_yet_is_offered_last_and_says_so(enter: Enter) -> None:
    new, able = a_therapist(name="Jorun Aldermere"), a_therapist(name="Lucie Amberwick")
    Staff.objects.filter(pk=new.pk).update(identity_checked_at=None)
    (ines,) = some_of(a_therapist(name="Runa Achterling"), 1)
    browser, said = enter(a_lead()), "identity not checked yet: signs nothing"
    for address in (reverse("reassign", args=[ines.pk]), reverse("cover", args=[ines.pk])):
        page = text(browser.get(address).content)
        assert (said in row_of(page, new.name), said in row_of(page, able.name)) == (True, False), address
        assert page.index(f"<span>{able.name}</span>") < page.index(f"<span>{new.name}</span>"), address
