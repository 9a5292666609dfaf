"""What is recorded at the Bench is what was shown; and what is shown is no more than may be done."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import datetime
from typing import Any
from urllib.parse import quote
from zoneinfo import ZoneInfo

import pytest
from django.test import Client

from caseload.prosthesis.services import edit_prosthesis, fit_component, register_prosthesis, remove_component
from caseload.words import instant_words
from checklists.bench.selectors import work
from checklists.episode.services import change_setting, close_episode
from checklists.record.models import Entry, HeldEntry
from clinic import clock
from clinic.errors import Conflict
from tests.makers import a_lead, a_prosthetist, a_therapist, ago, an_entry, an_episode, imported, recorded, stamp
from tests.web.test_bench import all_signed, asked, change, registered, sent, statuses

pytestmark = pytest.mark.django_db
Enter = Callable[..., Client]


def test_what_was_signed_off_since_the_page_was_shown_is_shown_before_it_is_set_back(enter: Enter) -> None:
    mine, browser = a_therapist(), enter(a_prosthetist())
    episode = an_episode(assigned_to=mine)
    address = f"/bench/{episode.pk}/?setting=foot"
    said = change(browser, address, note="On the second hole.")
    imported(a_lead(), episode, an_entry("sign_off", skill="don_check", by=mine, at=ago(minutes=1)))
    asks = browser.post(address, said)
    page = asks.content.decode()
    assert asks.status_code == 412
    assert "The record has moved on" in page
    assert "1 to be proven again, 2 that rest on them" in page
    assert "On the second hole." in page
    assert not Entry.objects.filter(kind="setting_changed").exists()
    assert sent(browser, address).status_code == 302
    assert statuses(episode)["don_check"] == "suspended"


def test_a_change_whose_price_was_never_shown_is_not_recorded(enter: Enter) -> None:
    episode = all_signed()
    browser, address = enter(a_prosthetist()), f"/bench/{episode.pk}/"
    assert browser.post(address, change(browser, address, shown="")).status_code == 412
    assert not Entry.objects.filter(kind="setting_changed").exists()


def test_a_lapsed_signature_counts_among_those_to_be_proven_again() -> None:
    mine = a_therapist()
    episode = an_episode(assigned_to=mine)
    old = an_entry("sign_off", skill="stair_down", by=mine, at=ago(days=200))
    imported(a_lead(), episode, old)
    price = work(a_prosthetist(), episode.pk, at=clock.now(), setting="foot").price
    assert [(one.key, one.before, one.after) for one in price.rows] == [("stair_down", "lapsed", "suspended")]


def test_under_a_request_stands_what_was_changed_since_it_was_asked(enter: Enter) -> None:
    episode, browser, nothing = all_signed(), enter(a_prosthetist()), "By the record nothing was changed since it was"
    imported(a_lead(), episode, an_entry("setting_changed", by=a_prosthetist(), at=ago(days=9), setting="foot"))
    request = asked(episode, "alignment")
    address = f"/bench/{episode.pk}/requests/{request.pk}/"

    def since() -> str:
        page = browser.get(address).content.decode()
        return page[page.index('class="asked"') : page.index("What is changed")]

    assert nothing in since()
    assert 'href="#h-hist"' in since()
    struck = an_entry("setting_changed", setting="socket", to="one ply", at=clock.now())
    recorded(a_prosthetist(), episode, struck)
    recorded(a_prosthetist(), episode, an_entry("struck_out", entry=struck["id"], reason="Another person’s"))
    assert nothing in since(), "what was struck out is no change"
    told: dict[str, Any] = {"from": "4", "to": "5", "at": clock.now()}
    recorded(a_prosthetist(name="Ebo Lanterne"), episode, an_entry("setting_changed", setting="resistance", **told))
    assert "Last change since it was asked:" in since()
    assert "Resistance, 4 to <b>5</b>" in since()
    assert "Ebo Lanterne" in since()
    assert nothing not in since()
    assert "This knee so far" not in browser.get(f"/bench/{episode.pk}/").content.decode().split("What is changed")[0]


def test_what_the_setting_is_now_is_said_and_not_asked(enter: Enter) -> None:
    episode, browser = registered(an_episode()), enter(a_prosthetist())
    address = f"/bench/{episode.pk}/?setting=resistance"
    assert 'id="id_before"' in browser.get(address).content.decode()
    sent(browser, address, to="5")
    page = browser.get(address).content.decode()
    assert "Stance-flexion resistance now: <b>5</b>" in page
    assert 'id="id_before"' not in page


def test_a_closed_episode_says_so_and_takes_no_change(enter: Enter) -> None:
    episode, bench = all_signed(), a_prosthetist()
    browser, address = enter(bench), f"/bench/{episode.pk}/"
    said = change(browser, address)
    close_episode(actor=a_lead(), episode_id=episode.pk, reason="moved away")
    page = browser.get(address).content.decode()
    assert "This episode is closed" in page
    assert "Record the change" not in page
    assert browser.post(address, said).status_code == 409
    with pytest.raises(Conflict, match="closed"):
        change_setting(actor=bench, episode_id=episode.pk, setting="foot", to="size 26")
    assert not Entry.objects.filter(kind="setting_changed").exists()


def test_a_closed_episode_keeps_its_register_as_it_is(enter: Enter) -> None:
    episode, bench = an_episode(side="left"), a_prosthetist()
    device = register_prosthesis(actor=bench, episode_id=episode.pk, side="left", label="Day leg")
    foot = fit_component(actor=bench, prosthesis_id=device.pk, kind="foot", description="A foot").part
    close_episode(actor=a_lead(), episode_id=episode.pk, reason="moved away")
    plan = enter(bench).get(f"/people/{episode.pk}/plan/").content.decode()
    assert "Episode closed" in plan
    assert [words in plan for words in ("Fit a part", "Register a prosthesis")] == [False, False]
    with pytest.raises(Conflict, match="closed"):
        fit_component(actor=bench, prosthesis_id=device.pk, kind="foot", description="Another foot")
    with pytest.raises(Conflict, match="closed"):
        remove_component(actor=bench, prosthesis_id=device.pk, component_id=foot.pk)
    scale = {"version": device.version, "resistance_low": 1, "resistance_high": 9}
    with pytest.raises(Conflict, match="closed"):
        edit_prosthesis(actor=bench, prosthesis_id=device.pk, label="Night leg", **scale)
    with pytest.raises(Conflict, match="closed"):
        register_prosthesis(actor=bench, episode_id=episode.pk, side="left", label="Another")


def test_a_change_made_earlier_is_priced_and_recorded_as_of_then(enter: Enter) -> None:
    """What was signed off after it was made stands."""
    mine = a_therapist()
    episode = an_episode(assigned_to=mine)
    before, after = (
        an_entry("sign_off", skill=skill, by=mine, at=ago(days=days))
        for skill, days in (("don_check", 4), ("stand_load", 2))
    )
    imported(a_lead(), episode, before, after)
    browser, made = enter(a_prosthetist()), ago(days=3)
    address = f"/bench/{episode.pk}/?setting=socket&made={quote(stamp(made))}"
    page = browser.get(address).content.decode()
    assert "1 to be proven again, " in page
    assert sent(browser, address).status_code == 302
    assert Entry.objects.get(kind="setting_changed").at == made
    assert [statuses(episode)[key] for key in ("don_check", "stand_load")] == ["suspended", "signed_off"]


def test_a_change_made_more_than_a_week_ago_waits_for_a_lead(enter: Enter) -> None:
    episode, browser = registered(an_episode()), enter(a_prosthetist())
    address = f"/bench/{episode.pk}/?setting=foot&made={quote(stamp(ago(days=8)))}"
    page = browser.post(address, change(browser, address), follow=True).content.decode()
    assert "waits until a clinic lead lets it into the record" in page
    assert not Entry.objects.filter(kind="setting_changed").exists()
    assert HeldEntry.objects.filter(episode=episode).count() == 1


def test_a_setting_that_is_struck_out_leads_to_the_right_one_as_of_the_same_day(enter: Enter) -> None:
    bench, episode = a_prosthetist(), an_episode()
    wrong = an_entry("setting_changed", at=ago(days=1), by=bench, setting="foot", to="size 62")
    imported(bench, episode, wrong)
    browser = enter(bench)
    strike = f"/people/{episode.pk}/strike-out/?entry={wrong['id']}"
    assert strike in browser.get(f"/bench/{episode.pk}/").content.decode()
    page = browser.post(strike, {"reason": "mistyped"}, follow=True)
    said = page.content.decode()
    assert "Now record the right one" in said
    assert ("The therapist is told." in said, "came of it" in said) == (True, False), "no alert is theirs to answer"
    assert sent(browser, page.redirect_chain[-1][0], to="size 26").status_code == 302
    right = Entry.objects.filter(kind="setting_changed").latest("number")
    assert (str(right.id) != wrong["id"], stamp(right.at)) == (True, wrong["at"])


def test_a_change_that_was_struck_out_and_put_right_never_stands_beside_the_right_one_as_if_it_held(
    enter: Enter,
) -> None:
    episode, browser = all_signed(), enter(a_prosthetist())
    request = asked(episode)
    address = f"/bench/{episode.pk}/requests/{request.pk}/"
    browser.post(address, change(browser, address, version=1, before="4", to="5"))
    wrong = Entry.objects.get(kind="setting_changed")
    strike = f"/people/{episode.pk}/strike-out/?entry={wrong.id}"
    redo = browser.post(strike, {"reason": "mistyped"}, follow=True)
    page = redo.content.decode()
    assert "Stance-flexion resistance before the change: <b>4</b>" in page
    assert "<s>Resistance, 4 to <b>5</b></s>" in page
    assert sent(browser, redo.redirect_chain[-1][0], before="4", to="6").status_code == 302
    bench = browser.get("/bench/").content.decode()
    assert "<s>Resistance: 4 to 5</s>" in bench
    why = re.compile(r"struck out [^<]* by [^<]+: mistyped<")
    assert why.search(bench)
    assert why.search(page)
    assert "<td>Resistance: 4 to 6</td>" in bench
    right = "<s>“Changed to 5”</s> struck out · put right: <b>6</b>"
    assert right in bench
    assert right in browser.get(f"/people/{episode.pk}/plan/").content.decode(), "whoever asked reads the same"


def test_where_no_knee_is_fitted_nothing_is_said_to_have_been_fitted(enter: Enter) -> None:
    episode = registered(an_episode(assigned_to=a_therapist()))
    said = enter(a_prosthetist()).get(f"/bench/{episode.pk}/?setting=knee").content.decode()
    assert "no knee in the register" in said
    assert "Nothing was changed." in said
    assert "since it was fitted" not in said


def test_a_time_that_was_typed_is_taken_along_by_whichever_key_is_pressed(enter: Enter) -> None:
    """Nothing is recorded as of a time whose price was not shown, nor as of now where another time was typed; what was
    typed besides stays in the form."""
    episode, browser = registered(an_episode()), enter(a_prosthetist())
    address, made = f"/bench/{episode.pk}/?setting=foot", ago(days=1).replace(microsecond=0)
    said = change(browser, address, to="size 26", note="as asked", earlier=as_typed(made))
    page = browser.post(address, said)
    assert (page.status_code, Entry.objects.filter(kind="setting_changed").count()) == (422, 0)
    told = page.content.decode()
    assert "Below stands what it sets back as of then: look at it, then record it." in told
    assert ("size 26" in told, "as asked" in told) == (True, True)
    looked = browser.post(address, said | {"look": "1"})
    assert (looked.status_code, "Not recorded yet" in looked.content.decode()) == (200, False)
    carried = {name: looked.context["form"][name].value() for name in ("to", "note")}
    assert carried == {"to": "size 26", "note": "as asked"}
    hidden = dict(re.findall(r'<input type="hidden" name="(shown|made)" value="([^"]+)"', looked.content.decode()))
    done = browser.post(address, said | hidden | {"earlier": ""}, follow=True)
    assert f"as of {instant_words(made, episode.site.time_zone)}." in done.content.decode()
    assert Entry.objects.get(kind="setting_changed").at == made


def test_a_time_that_is_none_or_lies_ahead_records_nothing_and_says_so(enter: Enter) -> None:
    episode, browser = registered(an_episode()), enter(a_prosthetist())
    address = f"/bench/{episode.pk}/?setting=foot"
    for fields in ({"earlier": as_typed(ago(days=-1))}, {"earlier": "yesterday"}, {"look": "1"}):
        page = browser.post(address, change(browser, address, to="size 26", **fields))
        assert page.status_code == 422
        assert "give a day and a time that are past" in page.content.decode()
        assert "size 26" in page.content.decode()
    assert not Entry.objects.filter(kind="setting_changed").exists()


def test_an_earlier_time_is_taken_back_and_what_was_typed_stays(enter: Enter) -> None:
    episode, browser = registered(an_episode()), enter(a_prosthetist())
    address = f"/bench/{episode.pk}/?setting=foot&made={quote(stamp(ago(days=1)))}"
    page = browser.post(address, change(browser, address, to="size 26", made=stamp(ago(days=1)), now="1"))
    assert (page.status_code, "recorded as of then" in page.content.decode()) == (200, False)
    assert page.context["form"]["to"].value() == "size 26"
    hidden = dict(re.findall(r'<input type="hidden" name="(shown|made)" value="([^"]*)"', page.content.decode()))
    assert browser.post(address, change(browser, address, to="size 26") | hidden).status_code == 302
    assert Entry.objects.get(kind="setting_changed").at > ago(minutes=5)


def as_typed(at: datetime) -> str:
    """As the field of the browser sends it: by the clocks of the site, without a zone."""
    return at.astimezone(ZoneInfo("Europe/London")).replace(tzinfo=None).isoformat()
