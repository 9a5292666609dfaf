"""What a part is called is put right in one place, and register and record agree afterwards; where they do not, a box
says so and where it is put right."""

from __future__ import annotations

import html
from collections.abc import Callable
from datetime import timedelta
from urllib.parse import quote
from uuid import UUID

import pytest
from django.test import Client

from caseload.models import Component, Episode
from caseload.prosthesis.services import correct_component, fit_component, register_prosthesis
from checklists.episode.services import change_setting
from checklists.keeping.striking import strike_out
from clinic.errors import Conflict, Invalid, Stale
from clinic.models import Staff, TrailRow
from tests.makers import a_prosthetist, a_therapist, ago, an_entry, an_episode, imported, stamp
from tests.web.test_bench import all_signed, change, sent
from tests.web.test_parts import NEW, TODAY, exchanges, knees, somebody_with_a_knee, with_a_knee

pytestmark = pytest.mark.django_db
Enter = Callable[..., Client]
WRONG, RIGHT = "SN-4471", "SN-4417"
RED = "Record and register name different knees"
UNRECORDED = "Exchanged, but not in the record"


def pages(browser: Client, episode: Episode) -> str:
    """Whatever says which knee somebody wears."""
    addresses = (f"/bench/{episode.pk}/", f"/people/{episode.pk}/", f"/people/{episode.pk}/plan/", "/bench/")
    return html.unescape("".join(browser.get(address).content.decode() for address in addresses))


def struck(browser: Client, episode: Episode, which: int = -1) -> str:
    """Strike a change out, the latest; where the right one is recorded."""
    entry = exchanges()[which]["id"]
    page = browser.post(f"/people/{episode.pk}/strike-out/?entry={entry}", {"reason": "mistyped"}, follow=True)
    return str(page.redirect_chain[-1][0])


def corrections() -> list[dict[str, object]]:
    return [row.detail for row in TrailRow.objects.filter(verb="component.corrected").order_by("number")]


def where(episode: Episode, part: Component) -> str:
    return f"/people/{episode.pk}/plan/devices/{part.prosthesis_id}/parts/{part.pk}/correct/"


def the_knee() -> Component:
    return Component.objects.filter(kind="knee").latest("period")


def exchanged(bench: Staff, browser: Client, side: str = "left", **said: object) -> Episode:
    """Whose knee was exchanged at the Bench, with a number that is mistyped."""
    episode = all_signed(side=side)
    for one in ("left", "right") if side == "both" else (side,):
        with_a_knee(bench, episode, one)
    address = f"/bench/{episode.pk}/?setting=knee"
    assert (
        sent(browser, address, before="Bench knee 2, SN-0002", features=["yielding"], **NEW, **said).status_code == 302
    )
    return episode


def test_an_exchange_recorded_again_asks_for_the_same_two_fields_and_corrects_the_register(enter: Enter) -> None:
    bench = a_prosthetist()
    browser = enter(bench)
    episode = exchanged(bench, browser, note="The old one worn, play at the axis.")
    address = struck(browser, episode)
    form = browser.get(address).content.decode()
    for shown in ('name="to" value="Bench knee 9"', f'name="serial" value="{WRONG}"', "play at the axis.</textarea>"):
        assert shown in form
    assert "Knee before the change: <b>Bench knee 2, SN-0002</b>" in form
    assert 'value="yielding" id="id_features_2" checked' in form, "as in what was struck out, not as the old knee"
    assert form.count('name="features"') - form.count("checked") == 3
    said = change(
        browser, address, before="Bench knee 2, SN-0002", to="Bench knee 9", serial=RIGHT, features=["yielding"]
    )
    done = browser.post(address, said, follow=True).content.decode()
    assert f"The register says Bench knee 9, {RIGHT}; it said Bench knee 9, {WRONG}." in done
    browser.post(address, said)
    assert [fact["to"] for fact in exchanges()] == [f"Bench knee 9, {WRONG}", f"Bench knee 9, {RIGHT}"]
    assert knees() == [("Bench knee 2", "SN-0002", False), ("Bench knee 9", RIGHT, True)]
    told = {"kind": "knee", "before": f"Bench knee 9, {WRONG}", "to": f"Bench knee 9, {RIGHT}", "reason": "mistyped"}
    assert corrections() == [{**told, "entry": said["entry_id"]}]
    shown = pages(browser, episode)
    assert (RED in shown, UNRECORDED in shown, "not in the register yet" in shown) == (False, False, False)
    assert (
        f"Knee now: <b>Bench knee 9, {RIGHT}</b>" in browser.get(f"/bench/{episode.pk}/?setting=knee").content.decode()
    )


def test_of_two_prostheses_the_one_whose_exchange_was_struck_out_is_corrected(enter: Enter) -> None:
    bench = a_prosthetist()
    browser = enter(bench)
    episode = exchanged(bench, browser, side="both", knee="right")
    address = struck(browser, episode)
    assert "side=right" in address
    told = {"knee": "right", "to": "Bench knee 9", "serial": RIGHT, "features": ["yielding"]}
    assert sent(browser, address, **told).status_code == 302
    found = Component.objects.filter(description="Bench knee 9").values_list("prosthesis__side", "serial")
    assert list(found) == [("right", RIGHT)]


def test_an_earlier_exchange_is_recorded_again_although_the_knee_was_exchanged_since(enter: Enter) -> None:
    bench = a_prosthetist()
    browser = enter(bench)
    episode = all_signed(side="left")
    with_a_knee(bench, episode)
    address = f"/bench/{episode.pk}/?setting=knee"
    earlier = f"{address}&made={quote(stamp(ago(days=3)))}"
    assert sent(browser, earlier, features=["yielding"], **NEW).status_code == 302
    assert sent(browser, address, to="Bench knee 11", serial="SN-1111", features=["yielding"]).status_code == 302
    again = struck(browser, episode, 0)
    assert sent(browser, again, to="Bench knee 9", serial=RIGHT, features=["yielding"]).status_code == 302
    assert [knee[:2] for knee in knees()][1:] == [("Bench knee 9", RIGHT), ("Bench knee 11", "SN-1111")]
    assert RED not in pages(browser, episode)


def test_a_first_knee_that_the_record_names_is_struck_out_and_fitted_again(enter: Enter) -> None:
    bench, episode = a_prosthetist(), an_episode(side="left", features=["lock"])
    browser = enter(bench)
    register_prosthesis(actor=bench, episode_id=episode.pk, side="left", label="Day leg")
    fits = {"since": (TODAY - timedelta(days=2)).isoformat(), "features": ["yielding"]}
    assert sent(browser, f"/bench/{episode.pk}/?setting=knee", **NEW, **fits).status_code == 302
    sends = browser.get(where(episode, the_knee()), follow=True)
    assert sends.redirect_chain[-1][0] == f"/people/{episode.pk}/strike-out/?entry={exchanges()[0]['id']}"
    assert "the register is corrected with it" in sends.content.decode()
    address = struck(browser, episode)
    form = browser.get(address).content.decode()
    assert f'name="serial" value="{WRONG}"' in form
    assert 'id="id_before"' not in form, "there was none before it"
    told = {"before": "", "to": "Bench knee 9", "serial": RIGHT, "features": ["yielding"]}
    assert sent(browser, address, **told).status_code == 302
    assert knees() == [("Bench knee 9", RIGHT, True)]
    assert f"Knee fitted: Bench knee 9, {RIGHT}" in pages(browser, episode)


def test_a_part_that_the_register_alone_names_is_corrected_at_the_part_with_a_reason(enter: Enter) -> None:
    """A first knee of which the record says no more than what it has."""
    bench = a_prosthetist()
    episode, _device = somebody_with_a_knee(bench, side="left")
    browser, address = enter(bench), where(episode, the_knee())
    assert address in browser.get(f"/people/{episode.pk}/plan/").content.decode()
    page = browser.get(address).content.decode()
    assert 'value="Bench knee 2"' in page
    assert "What the record says" not in page
    said = {"description": "Bench knee 2", "serial": "SN-0020", "seen": "Bench knee 2, SN-0002"}
    assert browser.post(address, {**said, "reason": ""}).status_code == 422
    done = browser.post(address, {**said, "reason": "Two digits swapped."}, follow=True).content.decode()
    assert "The register says Bench knee 2, SN-0020; it said Bench knee 2, SN-0002." in done
    told = {"before": "Bench knee 2, SN-0002", "to": "Bench knee 2, SN-0020", "reason": "Two digits swapped."}
    assert (corrections(), exchanges()) == ([{"kind": "knee", **told}], [])
    assert "SN-0002" not in pages(browser, episode)


def test_the_register_is_not_led_away_from_what_the_record_names(enter: Enter) -> None:
    bench = a_prosthetist()
    browser = enter(bench)
    episode = exchanged(bench, browser)
    part = the_knee()
    strike = f"/people/{episode.pk}/strike-out/?entry={exchanges()[0]['id']}"
    assert browser.get(where(episode, part)).headers["Location"] == strike
    said = {"description": "Bench knee 9", "serial": RIGHT, "reason": "mistyped", "seen": f"Bench knee 9, {WRONG}"}
    refused = browser.post(where(episode, part), said)
    assert refused.status_code == 409
    assert "strike it out and record it again" in refused.content.decode()
    assert (knees()[-1][1], corrections()) == (WRONG, [])


def test_a_number_that_the_record_has_not_got_is_the_registers_alone(enter: Enter) -> None:
    bench = a_prosthetist()
    browser, episode = enter(bench), all_signed(side="left")
    with_a_knee(bench, episode)
    bare = {"to": "Bench knee 9", "serial": "", "features": ["yielding"]}
    assert sent(browser, f"/bench/{episode.pk}/?setting=knee", **bare).status_code == 302
    said = {"serial": RIGHT, "reason": "Read on the knee.", "seen": "Bench knee 9"}
    other = browser.post(where(episode, the_knee()), {**said, "description": "Bench knee 8"})
    assert (other.status_code, knees()[-1][0]) == (409, "Bench knee 9")
    assert browser.post(where(episode, the_knee()), {**said, "description": "Bench knee 9"}).status_code == 302
    assert knees()[-1][:2] == ("Bench knee 9", RIGHT)
    assert RED not in pages(browser, episode)


def apart(bench: Staff, browser: Client) -> Episode:
    """Whose exchange was struck out, and recorded again by a program that knows the record alone."""
    episode = exchanged(bench, browser)
    struck(browser, episode)
    told = {"setting": "knee", "before": "Bench knee 2, SN-0002", "to": f"Bench knee 9, {RIGHT}"}
    change_setting(actor=bench, episode_id=episode.pk, features=["yielding"], **told)  # type: ignore[arg-type]  # as a program sends it
    return episode


def test_where_record_and_register_name_different_knees_a_box_says_both_and_where_it_is_put_right(
    enter: Enter,
) -> None:
    bench = a_prosthetist()
    browser = enter(bench)
    episode = apart(bench, browser)
    entry, address = exchanges()[-1]["id"], where(episode, the_knee())
    for page in (f"/bench/{episode.pk}/", f"/people/{episode.pk}/", f"/people/{episode.pk}/plan/"):
        shown = browser.get(page).content.decode()
        box = shown[shown.index(RED) : shown.index(RED) + 1200]
        for words in (f"<b>Bench knee 9, {RIGHT}</b>", f"<b>Bench knee 9, {WRONG}</b>", address, f"entry={entry}"):
            assert words in box, page
        assert "<p>By the record" in box, "of one knee it is not said which"
    theirs = enter(episode.assignments.get().staff).get(f"/people/{episode.pk}/").content.decode()
    assert ("Have the bench put it right." in theirs, address in theirs) == (True, False)
    browser = enter(bench)
    form = browser.get(address).content.decode()
    assert f'value="{RIGHT}"' in form, "what the record says stands there ready"
    said = {"description": "Bench knee 9", "serial": RIGHT, "reason": "mistyped", "seen": f"Bench knee 9, {WRONG}"}
    assert browser.post(address, said).status_code == 302
    assert RED not in pages(browser, episode)


def test_a_box_is_gone_too_once_the_record_is_struck_out_and_recorded_again(enter: Enter) -> None:
    bench = a_prosthetist()
    browser = enter(bench)
    episode = apart(bench, browser)
    told = {"to": "Bench knee 9", "serial": "SN-7144", "features": ["yielding"]}
    assert sent(browser, struck(browser, episode), **told).status_code == 302
    assert knees()[-1] == ("Bench knee 9", "SN-7144", True)
    assert RED not in pages(browser, episode)


@pytest.mark.parametrize(
    ("words", "differ"),
    [
        ("Bench knee 2, SN-0002", False),
        ("bench  knee 2", False),
        ("Bench knee 2 (SN-0002)", False),
        ("Bench knee 2, SN-0003", True),
        ("Bench knee 2, SN-00021", True),
        ("Bench knee 3", True),
    ],
)
def test_words_that_name_the_same_knee_are_no_difference(enter: Enter, words: str, differ: bool) -> None:
    bench, mine = a_prosthetist(), a_therapist()
    episode = an_episode(assigned_to=mine, side="left")
    fact = an_entry("setting_changed", at=ago(days=40), by=bench, setting="knee", to=words, features=["yielding"])
    imported(bench, episode, fact)
    with_a_knee(bench, episode)
    assert (RED in enter(bench).get(f"/people/{episode.pk}/").content.decode()) is differ


def test_a_part_is_not_corrected_from_a_form_that_is_older_than_it() -> None:
    bench = a_prosthetist()
    _episode, device = somebody_with_a_knee(bench)
    told: dict[str, str] = {"description": "Bench knee 2", "serial": "SN-0020", "reason": "mistyped"}
    which: dict[str, UUID] = {"prosthesis_id": device, "component_id": the_knee().pk}
    correct_component(actor=bench, seen="Bench knee 2, SN-0002", **which, **told)  # type: ignore[arg-type]  # two mappings
    with pytest.raises(Stale, match="the register says Bench knee 2, SN-0020 now"):
        correct_component(actor=bench, seen="Bench knee 2, SN-0002", **which, **told)  # type: ignore[arg-type]  # the same
    assert correct_component(actor=bench, **which, **told) is None, "it says so already"  # type: ignore[arg-type]  # the same
    with pytest.raises(Invalid, match="Say why it is corrected"):
        correct_component(actor=bench, **which, **{**told, "reason": " "})  # type: ignore[arg-type]  # the same
    assert len(corrections()) == 1


def test_a_foot_whose_exchange_is_in_the_record_is_not_led_away_either() -> None:
    bench = a_prosthetist()
    episode, device = somebody_with_a_knee(bench)
    foot = fit_component(actor=bench, prosthesis_id=device, kind="foot", description="Foot 2", serial="F-2").part
    told = {"description": "Foot 2", "serial": "F-3", "reason": "mistyped"}
    correct_component(actor=bench, prosthesis_id=device, component_id=foot.pk, **told)
    change_setting(actor=bench, episode_id=episode.pk, setting="foot", to="Foot 2, F-3")
    with pytest.raises(Conflict, match="The record says “Foot 2, F-3”"):
        correct_component(actor=bench, prosthesis_id=device, component_id=foot.pk, **{**told, "serial": "F-4"})
    strike_out(actor=bench, episode_id=episode.pk, entry=UUID(str(exchanges()[0]["id"])), reason="another")
    correct_component(actor=bench, prosthesis_id=device, component_id=foot.pk, **{**told, "serial": "F-4"})
    assert Component.objects.get(pk=foot.pk).serial == "F-4"


def shown_keys(page: str) -> list[str]:
    nav = page[page.index('aria-label="What is changed"') :]
    return [one.partition('"')[0].partition("&")[0] for one in nav[: nav.index("</nav>")].split('href="?setting=')[1:]]


OTHERS = ["alignment", "socket", "foot", "knee", "footwear"]


@pytest.mark.parametrize(
    ("features", "keys"),
    [(["yielding", "resistance"], ["resistance", *OTHERS]), (["free_swing", "yielding"], OTHERS)],
)
def test_the_resistance_is_offered_where_the_knee_has_it(enter: Enter, features: list[str], keys: list[str]) -> None:
    bench = a_prosthetist()
    episode, _device = somebody_with_a_knee(bench, features=features)
    page = enter(bench).get(f"/bench/{episode.pk}/").content.decode()
    assert shown_keys(page) == keys
    assert f'href="?setting={keys[0]}" aria-current="true"' in page


def test_of_a_knee_that_nobody_knows_the_resistance_is_offered_last(enter: Enter) -> None:
    bench = a_prosthetist()
    episode, _device = somebody_with_a_knee(bench)
    Episode.objects.filter(pk=episode.pk).update(knee_said=False)
    page = enter(bench).get(f"/bench/{episode.pk}/").content.decode()
    assert shown_keys(page) == [*OTHERS, "resistance"]


def test_a_resistance_that_was_asked_for_or_struck_out_can_be_answered_all_the_same(enter: Enter) -> None:
    bench = a_prosthetist()
    episode, _device = somebody_with_a_knee(bench, features=["yielding"])
    page = enter(bench).get(f"/bench/{episode.pk}/?setting=resistance").content.decode()
    assert 'href="?setting=resistance" aria-current="true"' in page


def test_the_note_of_a_change_stands_in_what_the_knee_has_been_through(enter: Enter) -> None:
    bench = a_prosthetist()
    browser = enter(bench)
    episode = exchanged(bench, browser, note="The old one worn, play at the axis.")
    page = browser.get(f"/bench/{episode.pk}/").content.decode()
    assert "The old one worn, play at the axis." in page[page.index('id="h-hist"') :]
