"""Marks: one outline for each meaning, never a colour alone; words are escaped."""

from __future__ import annotations

import re
from itertools import combinations

import pytest
from django.template import Context, Template

from clinic.web import marks


def drawn(name: str) -> str:
    """The lines of a mark without anything that only colours them."""
    return re.sub(r'class="[^"]*"', "", marks.shape(name)).replace('stroke="#fff"', "")


def test_no_two_shapes_are_alike() -> None:
    names = sorted(marks._SHAPES)
    assert [pair for pair in combinations(names, 2) if drawn(pair[0]) == drawn(pair[1])] == []


def test_an_unknown_mark_is_a_mistake_of_the_caller() -> None:
    with pytest.raises(KeyError):
        marks.mark("no such mark")


def test_a_mark_stands_beside_its_word() -> None:
    page = Template('{% say "lapsed" %}').render(Context())
    assert "<svg" in page
    assert "<span>lapsed</span>" in page


def test_what_a_person_typed_is_text_and_nothing_else() -> None:
    said = {"word": "<script>alert(1)</script>"}
    page = Template('{% say "open" word %}{% note "stop" word %}{{ word }}{% endnote %}').render(Context(said))
    assert "<script>" not in page


def test_nothing_drawn_carries_a_style_or_a_script() -> None:
    everything = "".join(marks.mark(name) for name in marks._SHAPES) + marks.logo()
    assert not re.search(r"style=|<script|on\w+=", everything)
