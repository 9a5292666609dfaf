"""The fast form of a fact's content is the canonical one (RFC 8785), as the library of that standard writes it."""

from __future__ import annotations

from typing import Any

import rfc8785
from hypothesis import given
from hypothesis import strategies as st

from checklists.record.judging import canonical

TEXTS = st.text(st.characters(exclude_categories=["Cs"]), max_size=12) | st.text(
    st.characters(max_codepoint=0x7F), max_size=30
)
NUMBERS = st.integers(-(2**53) + 1, 2**53 - 1) | st.floats(allow_nan=False, allow_infinity=False)
FACTS = st.dictionaries(
    TEXTS,
    TEXTS | NUMBERS | st.booleans() | st.lists(TEXTS, max_size=3) | st.dictionaries(TEXTS, st.booleans(), max_size=4),
)


@given(FACTS, st.dictionaries(TEXTS, NUMBERS, max_size=4))
def test_the_fast_form_is_the_standard_one(fact: dict[str, Any], measures: dict[str, float]) -> None:
    content = fact | {"measures": measures}
    assert canonical(content) == rfc8785.dumps(content)
