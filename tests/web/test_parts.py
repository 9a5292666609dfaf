"""A part in place of another: what becomes of the old one is said, and the exchange is asked for until it is in the
record."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import date, timedelta
from uuid import UUID

import pytest
from django.test import Client

from caseload.models import Component, Episode
from caseload.prosthesis.services import fit_component, register_prosthesis
from clinic.errors import Conflict
from clinic.models import Staff
from tests.makers import ALL_FEATURES, a_prosthetist, a_therapist, an_episode, now
from tests.web.test_bench import sent

pytestmark = pytest.mark.django_db
Enter = Callable[..., Client]
TODAY = now().date()


def somebody_with_a_knee(bench: Staff, **fields: object) -> tuple[Episode, UUID]:
    """Whose register has one knee, for a month."""
    episode = an_episode(**fields)  # type: ignore[arg-type]  # passed on as it came
    device = register_prosthesis(actor=bench, episode_id=episode.pk, side="left", label="Day leg")
    month = TODAY - timedelta(days=30)
    told = {"kind": "knee", "description": "Bench knee 2", "serial": "SN-0002", "since": month}
    fit_component(actor=bench, prosthesis_id=device.pk, **told)  # type: ignore[arg-type]  # as a form says it
    return episode, device.pk


def another_knee(since: date = TODAY) -> dict[str, object]:
    """As the form says it: with the features that the record has."""
    told = {"kind": "knee", "description": "Bench knee 9", "serial": "SN-4471", "since": since.isoformat()}
    return {**told, "features": [*ALL_FEATURES]}


def test_fitting_a_knee_over_another_says_before_and_after_what_becomes_of_the_old_one(enter: Enter) -> None:
    bench = a_prosthetist()
    episode, device = somebody_with_a_knee(bench)
    browser, address = enter(bench), f"/people/{episode.pk}/plan/devices/{device}/parts/"
    before = browser.get(f"{address}?kind=knee").content.decode()
    assert "Bench knee 2, SN-0002" in before
    assert "the old one is worn until the day before" in before
    after = browser.post(address, another_knee(), follow=True)
    page = after.content.decode()
    assert after.redirect_chain[-1][0] == f"/bench/{episode.pk}/?setting=knee"
    assert "Bench knee 9 is fitted. Bench knee 2 is no longer worn from" in page
    assert "Exchanged, but not in the record" in page
    assert 'name="to" value="Bench knee 9, SN-4471"' in page


def test_the_persons_page_is_red_until_the_exchange_is_in_the_record(enter: Enter) -> None:
    bench, mine = a_prosthetist(), a_therapist()
    episode, device = somebody_with_a_knee(bench, assigned_to=mine)
    page, browser = f"/people/{episode.pk}/", enter(bench)
    red = "Exchanged, but not in the record"
    assert red not in browser.get(page).content.decode()
    first = sent(browser, f"/bench/{episode.pk}/?setting=socket", to="new socket", before="").headers["Location"]
    assert "belongs in the register as well" in browser.get(first).content.decode()
    browser.post(f"{page}plan/devices/{device}/parts/", another_knee())
    assert f"/bench/{episode.pk}/?setting=knee" in browser.get(page).content.decode()
    theirs = enter(mine).get(page).content.decode()
    assert red in theirs
    assert "Have the bench record it before anything is trained." in theirs
    knee = {"to": "Bench knee 9, SN-4471", "features": ["yielding"]}
    recorded = sent(browser, f"/bench/{episode.pk}/?setting=knee", **knee)
    assert (recorded.status_code, recorded.headers["Location"]) == (302, "/bench/")
    assert "belongs in the register as well" not in browser.get("/bench/").content.decode()
    assert red not in browser.get(page).content.decode()


def test_a_part_that_is_the_first_of_its_kind_is_no_exchange(enter: Enter) -> None:
    bench = a_prosthetist()
    episode, device = somebody_with_a_knee(bench)
    address = f"/people/{episode.pk}/plan/devices/{device}/parts/"
    foot = {"kind": "foot", "description": "Bench foot", "since": TODAY.isoformat()}
    after = enter(bench).post(address, foot, follow=True)
    assert after.redirect_chain[-1][0] == f"/people/{episode.pk}/plan/#plan-devices"
    assert "Exchanged, but not in the record" not in enter(bench).get(f"/bench/{episode.pk}/").content.decode()


def test_a_part_does_not_begin_before_the_one_that_it_replaces() -> None:
    bench = a_prosthetist()
    _episode, device = somebody_with_a_knee(bench)
    long_ago = TODAY - timedelta(days=60)
    with pytest.raises(Conflict, match="Give a later day, or remove that one first"):
        fit_component(actor=bench, prosthesis_id=device, kind="knee", description="Bench knee 9", since=long_ago)
    assert Component.objects.count() == 1


def test_what_is_no_longer_worn_is_named_first(enter: Enter) -> None:
    bench = a_prosthetist()
    episode, device = somebody_with_a_knee(bench)
    part = Component.objects.get().pk
    page = enter(bench).get(f"/people/{episode.pk}/plan/devices/{device}/parts/{part}/").content.decode()
    assert "Knee: Bench knee 2, SN-0002, worn from" in page


def test_registering_leads_on_to_the_knee_and_what_it_has_to_the_record(enter: Enter) -> None:
    episode, browser = an_episode(side="left", features=["lock"]), enter(a_prosthetist())
    plan = f"/people/{episode.pk}/plan/"
    told = {"side": "left", "label": "Day leg", "resistance_low": 1, "resistance_high": 9}
    knee = browser.post(f"{plan}devices/", told, follow=True)
    form = knee.content.decode()
    assert "Its knee comes next" in form
    assert re.findall(r'name="features" value="(\w+)"[^>]*checked', form) == ["lock"]
    fits = {**another_knee(), "features": ["yielding", "resistance"]}
    bench = browser.post(knee.redirect_chain[-1][0], fits, follow=True).content.decode()
    assert "Now record what this knee has" in bench
    assert re.findall(r'name="features" value="(\w+)"[^>]*checked', bench) == ["yielding", "resistance"]
    assert 'name="to" value="Bench knee 9, SN-4471"' in bench


def test_where_nothing_can_be_registered_it_is_not_offered_and_the_refusal_says_what_to_do(enter: Enter) -> None:
    bench = a_prosthetist()
    episode, _device = somebody_with_a_knee(bench, side="left")
    browser, plan = enter(bench), f"/people/{episode.pk}/plan/"
    page = browser.get(plan).content.decode()
    assert "Register a prosthesis" not in page
    assert "Replace its parts above." in page
    told = {"side": "left", "label": "Another", "resistance_low": 1, "resistance_high": 9}
    assert "replace its parts" in browser.post(f"{plan}devices/", told).content.decode()
