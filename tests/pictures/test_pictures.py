"""The drawings: well-formed, safe under a strict policy, readable without colour and without eyes."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any
from xml.etree import ElementTree as ET

import pytest

from checklists import pictures
from checklists.pictures.ministair import summary
from checklists.pictures.tread import as_next, columns, levels, rail_words
from checklists.pictures.words import DRAWN, STATUS, WORDS, Words

DOCUMENT: dict[str, Any] = json.loads(Path("checklists/protocols/above_knee.json").read_text())
SUPPORT = DOCUMENT["support"]


def the_treads(both: bool = False, **status: str) -> list[pictures.Tread]:
    """Everybody's treads, open but for those named."""
    said = {key: {"status": value, "reasons": ["because"]} for key, value in status.items()}
    return pictures.treads(DOCUMENT, said, both=both)


def parsed(drawing: str) -> ET.Element:
    return ET.fromstring(drawing)  # noqa: S314 - our own drawing, read back


def a_drawing(rows: list[pictures.Tread], **options: Any) -> ET.Element:
    return parsed(pictures.staircase(rows, support=SUPPORT, **options))


def found(drawing: ET.Element, **attributes: str) -> list[ET.Element]:
    return [e for e in drawing.iter() if all(e.get(k) == v for k, v in attributes.items())]


def test_what_a_skill_needs_stands_on_a_lower_tread() -> None:
    rows = the_treads()
    place = {tread.key: number for number, tread in enumerate(rows)}
    assert all(place[parent] < place[tread.key] for tread in rows for parent in tread.after)


def test_levels_count_the_landings_below() -> None:
    assert levels({"a": [], "b": ["a"], "c": ["a", "b"]}) == {"a": 0, "b": 1, "c": 2}


def test_the_staircase_lists_every_skill_from_the_bottom_up() -> None:
    items = found(a_drawing(the_treads()), role="listitem")
    texts = ["".join(item.itertext()) for item in items]
    assert len(texts) == len(DOCUMENT["skills"])
    assert "Putting on" in texts[0]
    assert "Stairs down" in texts[-1]


@pytest.mark.parametrize("status", STATUS)
def test_each_status_is_told_by_its_word_as_well_as_its_shape(status: str) -> None:
    item = found(a_drawing(the_treads(don_check=status)), role="listitem")[0]
    assert STATUS[status] in "".join(item.itertext())


def test_no_two_statuses_share_a_tread() -> None:
    """Take the colour away: the plank's drawing alone tells them apart."""
    drawn = set()
    for status in STATUS:
        item = found(a_drawing(the_treads(don_check=status)), role="listitem")[0]
        plank = next(g for g in item.iter() if g.get("class") == f"pk pk-{status}")
        drawn.add(tuple(ET.tostring(child) for child in plank))
    assert len(drawn) == len(STATUS)


def test_ids_do_not_clash_between_two_staircases_of_a_page() -> None:
    ids = [e.get("id") for uid in ("one", "two") for e in a_drawing(the_treads(), uid=uid).iter() if e.get("id")]
    assert len(ids) == len(set(ids)) == 4


@pytest.mark.parametrize("name", ["style", "onclick", "onload"])
def test_a_drawing_carries_nothing_that_a_strict_policy_forbids(name: str) -> None:
    drawing = a_drawing(the_treads(ramp_down="suspended"), next_key="ramp_down", href="#skill-{key}")
    assert not [e for e in drawing.iter() if e.get(name) or e.tag.endswith("script") or e.tag.endswith("style")]


def test_a_title_with_markup_stays_text() -> None:
    rows = [replace(tread, name="<b>bold</b> & co") for tread in the_treads()][:3]
    assert "<b>bold</b> & co" in "".join(a_drawing(rows, title='"<x>"').itertext())


def test_the_next_skill_is_flagged_in_words() -> None:
    drawing = a_drawing(the_treads(), next_key="don_check")
    flagged = [e for e in drawing.iter() if "st-next" in (e.get("class") or "").split()]
    assert len(flagged) == 1
    assert "next" in "".join(flagged[0].itertext())


def test_the_handrail_says_what_is_proven_and_what_is_next() -> None:
    tread = replace(the_treads()[-1], status="training", proven="contralateral_rail", allowed="ipsilateral_rail")
    assert rail_words(tread) == "Proven safe on: contralateral rail; next allowed: ipsilateral rail."


def test_a_blocked_skill_shows_no_next_rung() -> None:
    tread = replace(the_treads()[0], status="blocked", allowed="none")
    assert rail_words(tread) == "No rung proven yet."


def test_a_blocked_skill_that_is_next_says_that_it_is_so_in_the_bars_alone() -> None:
    rungs = ("bars_both", "bars_one", "stick", "none")
    blocked = [replace(one, status="blocked", rungs=rungs, allowed="none", proven=None) for one in the_treads()[:2]]
    other, tread = as_next(blocked, blocked[1].key, ["bars_both", "bars_one", "stick", "none"])
    assert other == blocked[0]
    assert rail_words(tread) == "No rung proven yet; next allowed: one hand on the bars."
    drawn = pictures.staircase(blocked, support=rungs, next_key=blocked[1].key)
    assert drawn.count("blocked · meanwhile only in the bars") == 1
    assert not tread.begun


def test_the_deepest_proven_rung_carries_the_hand() -> None:
    said = {"sit_stand": {"status": "training", "proven_rungs": {"bars_both": 1, "bars_one": 1}, "allowed": "none"}}
    tread = next(t for t in pictures.treads(DOCUMENT, said) if t.key == "sit_stand")
    assert (tread.proven, tread.allowed) == ("bars_one", "none")


def test_two_prostheses_have_rails_without_a_contralateral_side() -> None:
    cols = columns(the_treads(both=True), SUPPORT)
    assert cols == ("bars_both", "bars_one", "both_rails", "one_rail", "stick", "none")


def test_a_rung_without_a_column_is_never_left_out_silently() -> None:
    rows = [replace(the_treads()[0], rungs=("trapeze",))]
    with pytest.raises(KeyError):
        a_drawing(rows)


def test_translated_words_reach_every_part() -> None:
    words = Words(status={key: f"~{word}" for key, word in STATUS.items()}, drawn={**DRAWN, "next": "~next"})
    said = pictures.staircase(the_treads(), support=SUPPORT, next_key="car", words=words)
    assert "~open" in said
    assert "~next" in said
    assert ">open" not in said


def test_the_small_staircase_says_how_far_in_one_sentence() -> None:
    rows = the_treads(don_check="signed_off", sit_stand="lapsed", lock_use="not_applicable")
    drawing = parsed(pictures.ministair(rows, title="Robin"))
    assert drawing.get("aria-label") == "Robin: 1 of 24 signed off, 1 to be proven again"
    assert summary(rows, WORDS) in str(drawing.get("aria-label"))


@pytest.mark.parametrize("proof", ["proven", "set", "failed"])
def test_no_two_modes_share_a_knee(proof: str) -> None:
    frames = {ET.tostring(parsed(pictures.knee(mode, proof))[0]) for mode in ("walking", "locked", "free_swing")}
    assert len(frames) == 3


def test_a_proven_knee_is_filled_and_a_set_one_dashed() -> None:
    proven, only_set = (parsed(pictures.knee("locked", proof))[0] for proof in ("proven", "set"))
    assert proven.get("fill") == "currentColor"
    assert only_set.get("stroke-dasharray")


def test_a_knee_speaks_where_no_words_stand_beside_it() -> None:
    drawing = parsed(pictures.knee("free_swing", "set"))
    assert drawing.get("aria-label") == "Knee: free swing, only set, not proven"


def test_a_mode_that_does_not_exist_is_not_drawn() -> None:
    with pytest.raises(ValueError, match="hover"):
        pictures.knee("hover")


LONG = "Signed off on 3 Mar 2026 by Runa; on 9 Mar 2026 the resistance was changed, so it must be proven again."


def test_a_reason_is_never_cut_where_it_stands() -> None:
    """On a tall tread it takes as many lines as it needs, on a low one it stands whole or not at all."""
    for status in STATUS:
        rows = [replace(tread, status=status, reasons=(LONG,), brief=(LONG,)) for tread in the_treads()]
        for item in found(a_drawing(rows, next_key="car"), role="listitem"):
            lines = [text for e in item.iter() if "st-line" in (e.get("class") or "") for text in e.itertext()]
            assert "…" not in "".join(lines)
            if status in ("suspended", "lapsed", "training", "ready"):
                assert LONG in " ".join(" ".join(lines).split())


def test_every_look_of_the_small_staircase_stands_in_its_key() -> None:
    key = parsed(pictures.ministair_key())
    words = ["".join(item.itertext()) for item in key]
    assert words == ["signed off", "ready to sign", "training", "suspended", "lapsed", "not begun", "next"]
