"""A part in place of another is one deed: the fact with what it sets back, and the part in the register. Where one of
both came alone, the pages know which is missing, and never order an exchange twice."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import timedelta
from urllib.parse import quote
from uuid import UUID

import orjson
import pytest
from django.test import Client

from caseload.models import Component, Episode, Prosthesis
from caseload.prosthesis.services import fit_component, register_prosthesis, remove_component
from checklists.episode.services import change_setting
from checklists.record.models import EntryContent
from clinic.errors import Conflict
from clinic.models import Staff
from tests.makers import ALL_FEATURES, a_prosthetist, a_therapist, ago, an_episode, now, stamp
from tests.web.test_bench import all_signed, change, sent

pytestmark = pytest.mark.django_db
Enter = Callable[..., Client]
TODAY = now().date()


def somebody_with_a_knee(bench: Staff, **fields: object) -> tuple[Episode, UUID]:
    """Whose register has one knee, for a month."""
    episode = an_episode(**fields)  # type: ignore[arg-type]  # passed on as it came
    return episode, with_a_knee(bench, episode)


def with_a_knee(bench: Staff, episode: Episode, side: str = "left") -> UUID:
    """The same for somebody who is here already."""
    device = register_prosthesis(actor=bench, episode_id=episode.pk, side=side, label="Day leg")
    month = TODAY - timedelta(days=30)
    told = {"kind": "knee", "description": "Bench knee 2", "serial": "SN-0002", "since": month}
    fit_component(actor=bench, prosthesis_id=device.pk, **told)  # type: ignore[arg-type]  # as a form says it
    return device.pk


NEW = {"to": "Bench knee 9", "serial": "SN-4471"}
WORDS = "Bench knee 9, SN-4471"


def exchanges() -> list[dict[str, object]]:
    """The changes in the record, oldest first, as they were written."""
    rows = EntryContent.objects.filter(entry__kind="setting_changed").order_by("entry__number")
    return [orjson.loads(row.body) for row in rows]


def knees() -> list[tuple[str, str, bool]]:
    """The knees of the register in their order, and whether they are worn."""
    rows = Component.objects.filter(kind="knee").order_by("period")
    return [(row.description, row.serial, row.period.upper is None) for row in rows]


@pytest.mark.parametrize("way", ["?setting=knee", "?setting=knee&side=left&new=1"])
def test_an_exchange_is_one_press_whichever_page_it_begins_on(enter: Enter, way: str) -> None:
    bench = a_prosthetist()
    episode = all_signed(side="left")
    device = with_a_knee(bench, episode)
    browser, plan = enter(bench), f"/people/{episode.pk}/plan/"
    assert f"/bench/{episode.pk}/?setting=knee&amp;side=left&amp;new=1" in browser.get(plan).content.decode()
    address = f"/bench/{episode.pk}/{way}"
    form = browser.get(address).content.decode()
    assert "Knee now: <b>Bench knee 2, SN-0002</b>" in form
    assert "A change of knee will set" in form
    assert "Record the exchange, set 24 skills back" in form
    said = change(browser, address, before="Bench knee 2, SN-0002", features=["yielding"], **NEW)
    done = browser.post(address, said, follow=True)
    assert done.redirect_chain[-1][0] == (f"{plan}#plan-devices" if "new" in way else "/bench/")
    assert f"{WORDS} is in the register, in place of Bench knee 2, SN-0002." in done.content.decode()
    browser.post(address, said)
    (fact,) = exchanges()
    assert (fact["from"], fact["to"], fact["features"]) == ("Bench knee 2, SN-0002", WORDS, ["yielding"])
    assert knees() == [("Bench knee 2", "SN-0002", False), ("Bench knee 9", "SN-4471", True)]
    assert "not in the re" not in browser.get(plan).content.decode() + browser.get(address).content.decode()
    assert Prosthesis.objects.get().pk == device


def test_two_knees_of_one_model_are_told_apart_by_their_numbers(enter: Enter) -> None:
    bench = a_prosthetist()
    episode, _device = somebody_with_a_knee(bench, side="left")
    browser, address = enter(bench), f"/bench/{episode.pk}/?setting=knee"
    said = change(browser, address, features=["yielding"], to="Bench knee 2", serial="SN-0003")
    done = browser.post(address, said, follow=True).content.decode()
    assert "Bench knee 2, SN-0003 is in the register, in place of Bench knee 2, SN-0002." in done


@pytest.mark.parametrize("way", ["", "&side=left&new=1"])
def test_the_form_of_an_exchange_is_taken_as_the_page_carries_it(enter: Enter, way: str) -> None:
    """With the fields that nobody sees and the ticks that stand there, and with nothing that a test adds."""
    bench = a_prosthetist()
    episode, _device = somebody_with_a_knee(bench, side="left")
    browser, address = enter(bench), f"/bench/{episode.pk}/?setting=knee{way}"
    page = browser.get(address).content.decode()
    form = page[page.index('<form method="post" id="change"') :]
    said: dict[str, object] = dict(re.findall(r'<input type="hidden" name="(\w+)" value="([^"]*)"', form))
    ticks = re.findall(r'name="features" value="(\w+)"[^>]*checked', form)
    done = browser.post(address, {**said, "features": ticks, "to": "Bench knee 9", "serial": "SN-4471"})
    assert (done.status_code, len(exchanges()), len(knees())) == (302, 1, 2)


def test_what_is_refused_is_said_at_the_head_of_the_page_with_the_name_of_its_field(enter: Enter) -> None:
    bench = a_prosthetist()
    episode, _device = somebody_with_a_knee(bench, side="left")
    page = sent(enter(bench), f"/bench/{episode.pk}/?setting=knee", to="", entry_id="").content.decode()
    head = page[: page.index('id="h-queue"')]
    assert '<a href="#id_to_error">Knee, to</a>: This field is required.' in head
    assert "(entry_id: This field is required.)" in head, "nobody sees its field: its fault is said all the same"
    assert 'id="id_to_error"' in page


def test_an_exchange_that_the_register_cannot_take_is_not_recorded_either(enter: Enter) -> None:
    bench, episode = a_prosthetist(), an_episode(side="left")
    device = register_prosthesis(actor=bench, episode_id=episode.pk, side="left", label="Day leg")
    fit_component(actor=bench, prosthesis_id=device.pk, kind="knee", description="Bench knee 2")  # today
    browser = enter(bench)
    answer = sent(browser, f"/bench/{episode.pk}/?setting=knee", features=["yielding"], **NEW)
    assert (answer.status_code, exchanges(), len(knees())) == (409, [], 1)


def test_a_fact_that_was_sent_alone_asks_for_its_part_and_for_nothing_more(enter: Enter) -> None:
    bench = a_prosthetist()
    episode, _device = somebody_with_a_knee(bench, side="left")
    change_setting(actor=bench, episode_id=episode.pk, setting="knee", to=WORDS, features=["yielding"])
    browser, plan = enter(bench), f"/people/{episode.pk}/plan/"
    assert "It is not in the register yet." in browser.get(plan).content.decode()
    address = f"/bench/{episode.pk}/?setting=knee&side=left&new=1"
    form = browser.get(address).content.decode()
    assert f"<b>{WORDS}</b>" in form[: form.index("What is changed")], "what is worn is what the record says"
    assert 'name="to" value="Bench knee 9"' in form
    assert 'name="serial" value="SN-4471"' in form
    assert "will set" not in form
    told = {"to": "Bench knee 9", "serial": "SN-4471", "since": TODAY.isoformat()}
    done = sent(browser, address, **told)
    assert (done.status_code, len(exchanges())) == (302, 1)
    assert knees() == [("Bench knee 2", "SN-0002", False), ("Bench knee 9", "SN-4471", True)]
    assert "not in the register yet" not in browser.get(plan).content.decode()
    once_more = browser.get(f"{address}&another=1").content.decode()
    assert "Record the exchange" in once_more
    earlier, made = f"{address}&another=1&made={quote(stamp(ago(days=1)))}", {"made": stamp(ago(days=1)), "now": "now"}
    assert "No, it is made now</button>" in browser.get(earlier).content.decode()
    back = browser.post(earlier, change(browser, earlier, **made)).content.decode()
    assert ("recorded as of then" in back, "Record the exchange" in back) == (False, True), "still another exchange"


def test_of_two_prostheses_the_one_that_is_named_gets_the_part(enter: Enter) -> None:
    bench, episode = a_prosthetist(), an_episode(side="both")
    for side in ("left", "right"):
        with_a_knee(bench, episode, side)
    address = f"/bench/{episode.pk}/?setting=knee"
    done = sent(enter(bench), address, knee="right", features=[*ALL_FEATURES], **NEW)
    assert (done.status_code, [fact["knee"] for fact in exchanges()]) == (302, ["right"])
    (new,) = Component.objects.filter(description="Bench knee 9")
    assert new.prosthesis.side == "right"
    assert Component.objects.filter(period__endswith__isnull=True).count() == 2


def test_an_exchange_that_waits_for_a_lead_is_not_in_the_register_before_it_is_in_the_record(enter: Enter) -> None:
    bench = a_prosthetist()
    episode, _device = somebody_with_a_knee(bench, side="left")
    browser, address = enter(bench), f"/bench/{episode.pk}/?setting=knee&made={quote(stamp(ago(days=8)))}"
    page = browser.post(address, change(browser, address, features=[*ALL_FEATURES], **NEW), follow=True)
    assert "waits until a clinic lead lets it into the record" in page.content.decode()
    assert (exchanges(), len(knees())) == ([], 1)


def test_a_socket_is_changed_or_exchanged_and_the_form_asks_which(enter: Enter) -> None:
    bench, episode = a_prosthetist(), an_episode(side="left")
    register_prosthesis(actor=bench, episode_id=episode.pk, side="left", label="Day leg")
    browser, address = enter(bench), f"/bench/{episode.pk}/?setting=socket"
    assert sent(browser, address, to="padded at the back").status_code == 302
    assert not Component.objects.exists()
    assert sent(browser, address, to="Socket 2", serial="S-2", new_part="on").status_code == 302
    assert [(row.kind, row.description) for row in Component.objects.all()] == [("socket", "Socket 2")]
    assert [fact["to"] for fact in exchanges()] == ["padded at the back", "Socket 2, S-2"]


def test_the_persons_page_is_red_until_the_exchange_is_in_the_record(enter: Enter) -> None:
    bench, mine = a_prosthetist(), a_therapist()
    episode, device = somebody_with_a_knee(bench, assigned_to=mine)
    page, browser = f"/people/{episode.pk}/", enter(bench)
    red = "Exchanged, but not in the record"
    assert red not in browser.get(page).content.decode()
    # a program of the clinic's own did this
    fit_component(actor=bench, prosthesis_id=device, kind="knee", description="Bench knee 9", serial="SN-4471")
    assert f"/bench/{episode.pk}/?setting=knee" in browser.get(page).content.decode()
    theirs = enter(mine).get(page).content.decode()
    assert red in theirs
    assert "Have the bench record it before anything is trained." in theirs
    form = browser.get(f"/bench/{episode.pk}/?setting=knee").content.decode()
    assert 'name="to" value="Bench knee 9"' in form
    assert 'name="serial" value="SN-4471"' in form
    recorded = sent(browser, f"/bench/{episode.pk}/?setting=knee", features=["yielding"], **NEW)
    assert (recorded.status_code, recorded.headers["Location"]) == (302, "/bench/")
    assert len(knees()) == 2
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


def test_registering_leads_on_to_the_knee_and_one_press_says_what_it_has(enter: Enter) -> None:
    episode, browser = an_episode(side="left", features=["lock"]), enter(a_prosthetist())
    bench = browser.get(f"/bench/{episode.pk}/").content.decode()
    assert "No prosthesis is registered." in bench
    assert "Record the change" not in bench
    told = {"side": "left", "label": "Day leg", "resistance_low": 1, "resistance_high": 9}
    knee = browser.post(f"/people/{episode.pk}/plan/devices/", told, follow=True)
    form = knee.content.decode()
    assert "Its knee comes next" in form
    assert re.findall(r'name="features" value="(\w+)"[^>]*checked', form) == ["lock"]
    assert "Ticked: as recorded when care began." in form
    address = knee.redirect_chain[-1][0]
    fits = {"to": "Bench knee 9", "serial": "SN-4471", "since": TODAY.isoformat()}
    assert sent(browser, address, features=["yielding", "resistance"], **fits).status_code == 302
    (fact,) = exchanges()
    assert (fact.get("from"), fact["to"], fact["features"]) == (None, WORDS, ["yielding", "resistance"])
    assert knees() == [("Bench knee 9", "SN-4471", True)]
    after = browser.get("/bench/").content.decode()
    assert f"Knee fitted: {WORDS}" in after


def test_a_first_knee_that_has_what_is_recorded_sets_nothing_back(enter: Enter) -> None:
    bench, episode = a_prosthetist(), all_signed(side="left")
    register_prosthesis(actor=bench, episode_id=episode.pk, side="left", label="Day leg")
    fits = {"to": "Bench knee 9", "serial": "", "since": TODAY.isoformat(), "features": [*ALL_FEATURES]}
    assert sent(enter(bench), f"/bench/{episode.pk}/?setting=knee", **fits).status_code == 302
    assert (exchanges(), knees()) == ([], [("Bench knee 9", "", True)])


def test_a_knee_after_one_that_was_taken_off_is_an_exchange(enter: Enter) -> None:
    bench = a_prosthetist()
    episode, device = somebody_with_a_knee(bench, side="left")
    remove_component(actor=bench, prosthesis_id=device, component_id=Component.objects.get().pk)
    browser, address = enter(bench), f"/bench/{episode.pk}/?setting=knee&side=left&new=1"
    assert "Record the exchange" in browser.get(address).content.decode()
    assert sent(browser, address, features=[*ALL_FEATURES], **NEW).status_code == 302
    assert len(exchanges()) == 1


def test_where_nothing_can_be_registered_it_is_not_offered_and_the_refusal_says_what_to_do(enter: Enter) -> None:
    bench = a_prosthetist()
    episode, _device = somebody_with_a_knee(bench, side="left")
    browser, plan = enter(bench), f"/people/{episode.pk}/plan/"
    page = browser.get(plan).content.decode()
    assert "Register a prosthesis" not in page
    assert "Another side begins with a new referral, once this episode is closed; a spare is not registered." in page
    told = {"side": "left", "label": "Another", "resistance_low": 1, "resistance_high": 9}
    assert "replace its parts" in browser.post(f"{plan}devices/", told).content.decode()


def test_of_two_prostheses_each_control_says_its_side(enter: Enter) -> None:
    bench, episode = a_prosthetist(), an_episode(side="both")
    for side in ("left", "right"):
        register_prosthesis(actor=bench, episode_id=episode.pk, side=side, label="Day leg")
    page = enter(bench).get(f"/people/{episode.pk}/plan/").content.decode()
    register = page[page.index('id="plan-devices"') :]
    for side in ("left", "right"):
        address = f"/bench/{episode.pk}/?setting=knee&amp;side={side}&amp;new=1"
        assert f'href="{address}">Fit the knee<span class="unseen">, {side}</span></a>' in register
        assert f'Fit a part<span class="unseen">, {side}</span></a>' in register
