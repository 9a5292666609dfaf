"""What may and may not be done on stairs and slopes today, and why: the one home of that sentence.

No rule of its own: where a skill stands is the fold's word, what may be tried is its next step, and whether an attempt
of now would break anything its advice. What holds only after a check never has the mark of a yes. Which skills are
meant the protocol says with its tags.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from checklists.domain import Broken
from checklists.domain.rule import BUILTIN_RULES
from checklists.person.first import after, first_lines
from checklists.person.heads import Standing, fold_of
from checklists.pictures import Tread
from checklists.pictures.tread import reach
from checklists.pictures.words import HELP, WORDS
from checklists.today.rows import hand_words
from checklists.words import Spoken, said

TAGS = frozenset({"stairs", "ramp"})
OWN = frozenset({"prerequisite", "fall_review"})  # of which the reasons of a status speak themselves
GAP = "gap"  # the one rule of the core that is put right as a check is: by an attempt in the bars
MARKS = {"alone": "signed_off", "with_us": "training", "led": "training", "not_now": "stop"}
VERDICT = Spoken(
    {
        "alone": gettext_noop("yes, also at home"),
        "with_us": gettext_noop("only with us"),
        "led": gettext_noop("only with a therapist, as none has led it yet"),
        "not_now": gettext_noop("not now"),
    }
)


@dataclass(frozen=True, slots=True)
class Way:
    """One skill: whether it may be done, on what and with whom, why, and what only it asks for first."""

    tread: Tread
    verdict: str  # alone, with_us, led (with us, and to whoever asks a therapist's to lead), not_now
    how: str
    why: tuple[str, ...]
    first: tuple[str, ...] = ()
    after: str = ""  # the checks that come before it, in few words

    @property
    def skill(self) -> str:
        """Its key."""
        return self.tread.key

    @property
    def name(self) -> str:
        """Its short name."""
        return self.tread.name

    @property
    def mark(self) -> str:
        """The verdict's mark; of one that holds only after a check, that it waits."""
        return "waiting" if self.after else MARKS[self.verdict]

    @property
    def words(self) -> str:
        """The verdict in words, behind what it waits for."""
        if not self.after:
            return VERDICT[self.verdict]
        return _("not before {checks}; after it: {verdict}").format(checks=self.after, verdict=VERDICT[self.verdict])


@dataclass(frozen=True, slots=True)
class Stairs:
    """All of them, from the bottom up; `shared`: what stands behind each that may not be done now, once for all."""

    ways: Sequence[Way]
    shared: tuple[str, ...]


def stairs_today(
    standing: Standing, treads: Sequence[Tread], side: str, *, local: datetime, closed: Collection[str] = ()
) -> Stairs:
    """What holds now. `local`: the instant by the site's clocks, whose calendar decides what is a gap. `closed`: the
    skills that are not the reader's to lead."""
    asked = _Asked(standing, side, local, closed)
    return Stairs(*_told_once([asked.way(tread) for tread in treads if tread.key in asked.skills]))


def _told_once(ways: Sequence[Way]) -> tuple[list[Way], tuple[str, ...]]:
    """Whatever all that may not be done now have for a reason, taken out of each."""
    shut = [way for way in ways if way.verdict == "not_now"]
    shared = tuple(line for line in shut[0].why if all(line in way.why for way in shut)) if len(shut) > 1 else ()
    mine = [replace(way, why=tuple(line for line in way.why if line not in shared)) for way in shut]
    return [mine.pop(0) if way.verdict == "not_now" else way for way in ways], shared


class _Asked:
    """The core, asked about one person."""

    def __init__(self, standing: Standing, side: str, local: datetime, closed: Collection[str]) -> None:
        self._board, self._side, self._at, self._closed = standing.board, side, local, closed
        self._fold = fold_of(standing.head) if standing.head else None
        self._alone, self._near = standing.protocol.help[-1], standing.protocol.beside
        self.skills: Mapping[str, Mapping[str, Any]] = {
            skill["key"]: skill for skill in standing.protocol.document["skills"] if TAGS & set(skill.get("tags", ()))
        }
        self._steps = {step["skill"]: step for step in self._board.get("next", ())}
        self._listed = {one["key"] for one in self._board.get("check_first", ())}

    def way(self, tread: Tread) -> Way:
        """What holds for a skill."""
        stands, near = self._board["skills"][tread.key], self._near
        if tread.status == "signed_off":
            support, alone = reach(self.skills[tread.key], both=self._side == "both"), self._alone
            return self._best(tread, (support, alone), (stands["allowed"], alone), (stands["allowed"], near))
        if step := self._steps.get(tread.key):
            why = (*tread.reasons[:-1], said(step["why"]))
            return self._said(tread, step["support"], step["help"], why, [Broken(**one) for one in step["first"]])
        if tread.status == "blocked":  # its reasons name what it waits for
            return Way(tread, "not_now", "", tread.reasons)
        own = frozenset() if stands["met"] else OWN
        return self._best(tread, (stands["support"], stands["help"] or near), told=own)

    def _best(self, tread: Tread, *tries: tuple[str, str], told: Collection[str] = ()) -> Way:
        """The first of these attempts that breaks nothing now but what a check puts right, and what others break; of
        the rules `told` the status speaks already."""
        held: list[str] = []
        for support, help_ in tries:
            planned = {"skill": tread.key, "support": support, "help": help_}
            breaks = self._fold.advise(planned, at=self._at).breaks if self._fold else ()
            kept = [one for one in breaks if one.rule in BUILTIN_RULES and one.rule != GAP]
            lasting = [said(f"{one.sentence} {one.do_first}") for one in kept if one.rule not in told]
            if not kept:
                further = [_("No further yet: {why}").format(why=" ".join(dict.fromkeys(held)))] if held else ()
                return self._said(tread, support, help_, (*tread.reasons, *further), breaks)
            held += lasting
        return Way(tread, "not_now", "", (*tread.reasons, *dict.fromkeys(held)))

    def _said(self, tread: Tread, support: str, help_: str, why: tuple[str, ...], breaks: Sequence[Broken]) -> Way:
        hand, alone = hand_words(support, self._side), help_ == self._alone
        with_us = "led" if tread.key in self._closed else "with_us"
        held = f"{WORDS.rung(support)} ({hand})" if hand else WORDS.rung(support)
        how = held if alone else f"{held}, {HELP.get(help_, help_.replace('_', ' '))}"
        own = [{"key": one.rule, "sentence": one.sentence} for one in breaks if one.rule not in self._listed]
        first = tuple(said(line) for line in first_lines(own))
        checks = after(one.rule for one in breaks)
        return Way(tread, "alone" if alone else with_us, how, why, first, checks)
