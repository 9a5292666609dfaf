"""A sign-off about which there is an alert: once it counts no longer, nobody is asked to withdraw it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.utils.translation import gettext as _

from checklists.person.heads import Standing, standings
from checklists.person.settings import SIGNATURES, Row, standing_of_all
from clinic.web.tags import moment


@dataclass(frozen=True, slots=True)
class Over:
    """Since when a sign-off counts no longer, and why (`how`: withdrawn, anew, suspended or lapsed); by whom, where
    somebody withdrew it or signed anew."""

    how: str
    at: datetime
    by: str = ""


def over_since(sign_offs: Mapping[UUID, UUID], *, at: datetime) -> dict[UUID, Over]:
    """Those of these sign-offs that count no longer, each given with its episode. Four statements at most; none where
    there are none."""
    signed = standing_of_all(set(sign_offs.values()), SIGNATURES)
    after = {one: _after(str(one), signed[episode]) for one, episode in sign_offs.items()}
    last = {one: rows[0] for one, rows in after.items() if len(rows) == 1}
    stand = standings({sign_offs[one] for one in last}, at=at) if last else {}
    fallen = {one: _fallen(row, stand.get(sign_offs[one])) for one, row in last.items()}
    return {
        **{one: _next(rows[1]) for one, rows in after.items() if len(rows) > 1},
        **{one: over for one, over in fallen.items() if over is not None},
    }


def _after(sign_off: str, rows: Sequence[Row]) -> list[Row]:
    """The sign-off itself, where it holds, and what was signed of its skill after it, in order."""
    begins = next((n for n, (fact, *_rest) in enumerate(rows) if fact["id"] == sign_off), len(rows))
    return [row for row in rows[begins:] if row[0]["skill"] == rows[begins][0]["skill"]]


def _next(row: Row) -> Over:
    """What was signed next of the skill: a withdrawal, or another sign-off, which counts instead."""
    fact, at, by = row
    return Over("withdrawn" if fact["kind"] == "sign_off_withdrawn" else "anew", at, by)


def _fallen(row: Row, standing: Standing | None) -> Over | None:
    """That the last sign-off of its skill fell back or lapsed, as the core has it; nothing where it counts."""
    now = standing.skills.get(row[0]["skill"], {}) if standing else {}
    since = {"suspended": "fell_back_at", "lapsed": "lapses_at"}.get(now.get("status", ""))
    return Over(now["status"], datetime.fromisoformat(now[since])) if since else None


def over_words(over: Over) -> str:
    """What is left to do once the sign-off counts no longer: the answer."""
    words = {
        "withdrawn": _("The sign-off was withdrawn on {day} by {name}."),
        "anew": _("The skill was signed off anew on {day} by {name}: that sign-off counts instead of this one."),
        "suspended": _("The sign-off no longer counts since {day}: the skill must be proven again."),
        "lapsed": _("The sign-off lapsed on {day}: the skill must be proven again."),
    }[over.how]
    left = _("What is left is the answer: say what was done.")
    return f"{words.format(day=moment(over.at), name=over.by)} {left}"
