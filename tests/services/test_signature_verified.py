"""What is printed of a signature is compared with what was signed by the instant, however either is written."""

from __future__ import annotations

from datetime import UTC, datetime

import orjson
import pytest

from checklists.signoff.signature import digest_of
from checklists.signoff.verifying import _printed


def printed(signed_at: datetime, at: str) -> list[str]:
    """The faults of a signature that was signed at `at`, as the site's clocks had it, and is kept as `signed_at`."""
    said = {
        "signer": {"name": "Runa Achterling"},
        "meaning": "approval",
        "at": at,
        "shown": "password",
        "statement": "I …",
        "skill": "turns",
        "protocol": "above_knee@1",
    }
    text, evidence = orjson.dumps(said).decode(), "{}"
    row = (
        *(None,) * 5,
        text,
        digest_of(text),
        "Runa Achterling",
        "approval",
        signed_at,
        "password",
        "",
        "",
        evidence,
        digest_of(evidence),
        "I …",
        "turns",
        "above_knee@1",
        "Runa Achterling",
        "",
        None,
        None,
    )
    return _printed(row, said)


@pytest.mark.parametrize("at", ["2026-06-08T09:41:45+01:00", "2026-06-08T08:41:45Z", "2026-06-08T08:41:45.120+00:00"])
def test_an_instant_of_summer_is_the_same_instant(at: str) -> None:
    assert printed(datetime(2026, 6, 8, 8, 41, 45, tzinfo=UTC), at) == []


@pytest.mark.parametrize("at", ["2026-06-08T09:41:45Z", "2026-06-08T08:41:46Z", "2026-06-08T08:41:45+01:00"])
def test_another_instant_is_found(at: str) -> None:
    assert printed(datetime(2026, 6, 8, 8, 41, 45, tzinfo=UTC), at)
