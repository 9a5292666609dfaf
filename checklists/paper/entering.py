"""Entering a sheet afterwards: the rows go through the one write path, and each comes back with its verdict."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any
from uuid import UUID

from django.utils.translation import gettext as _

from caseload.models import Episode
from checklists.alerts.selectors import critical_waiting
from checklists.floor.sessions import Session
from checklists.paper.again import Again, again, entered_meanwhile
from checklists.paper.facts import fact_of
from checklists.paper.forms import MORE, MOST, DayForm, RowForm, count_of, filled, offer_of, row_again, rows
from checklists.paper.session import around, session_facts
from checklists.paper.session import told as session_told
from checklists.person.facts import tell
from checklists.person.first import first_lines
from checklists.person.selectors import standing_of
from checklists.record import protocols
from checklists.record.late import settle_refused
from checklists.record.services import Raised, Verdict, record_entries
from checklists.today.facts import sessions_of_day
from checklists.words import Spoken, pgettext_noop, said
from checklists.words.tables import worded
from clinic import access, clock
from clinic.access import Action
from clinic.errors import Refusal
from clinic.staff.models import Staff

MARKS = {"accepted": "good", "repeated": "good", "held": "waiting", "refused": "unsafe"}
OUTCOMES = Spoken(
    {
        "accepted": pgettext_noop("row", "recorded"),
        "repeated": pgettext_noop("row", "recorded before"),
        "held": pgettext_noop("row", "waits for a clinic lead"),
        "refused": pgettext_noop("row", "not recorded"),
    },
    "row",
)
TAKEN = ("accepted", "repeated", "held")


@dataclass(slots=True)
class Line:
    """A row with what became of it: mark and words of the outcome, the fact in words, and the sentence of a refusal."""

    form: RowForm
    outcome: str = ""
    mark: str = ""
    words: str = ""
    told: str = ""
    error: str = ""

    @property
    def done(self) -> bool:
        """Whether it is taken: recorded, or kept for a lead. Such a row is not typed any more."""
        return self.outcome in TAKEN


@dataclass(slots=True)
class Entering:
    """The page: whose sheet, its day and rows, and what the record says now that rows were taken. `session`: which one
    was recorded with them, in words. `again`: what one of the rows is entered again for; `seen_to`: what was refused is
    seen to with it; `alert_waits`: its alert waits for an answer all the same, which the reader may give."""

    episode: Episode
    day: DayForm
    lines: list[Line]
    again: Again | None = None
    fault: str = ""
    raised: Sequence[Raised] = ()
    check_first: Sequence[str] = ()
    session: str = ""
    counts: Mapping[str, int] = field(default_factory=dict)
    seen_to: bool = False
    alert_waits: bool = False

    @property
    def begun(self) -> bool:
        """Whether a row was taken already: the day of the sheet then stands."""
        return any(line.done for line in self.lines)

    @property
    def settled(self) -> bool:
        """Whether every row that says something is taken."""
        return self.begun and all(line.done or not line.form.typed for line in self.lines)

    @property
    def over(self) -> bool:
        """Whether there is nothing left to record: every row is taken."""
        return all(line.done for line in self.lines)

    @property
    def full(self) -> bool:
        """Whether there are as many rows as one sheet takes."""
        return len(self.lines) >= MOST


def entering(
    actor: Staff, episode_id: UUID, data: Mapping[str, Any] | None, *, at: datetime, asked: str = ""
) -> Entering:
    """The page as it is first shown, or with what was typed and more rows; records nothing. `asked`: what is to be
    entered again. NotFound or Denied where the person is not the actor's to record for."""
    episode = _episode(actor, episode_id, at)
    offer = offer_of(protocols.loaded(episode.head.protocol_id).document, episode.side)
    today = clock.local_day(at, episode.site.time_zone)
    wrong = again(actor, episode_id, asked, episode.site.time_zone, at=at)
    row = row_again(offer, wrong.row) if wrong else None
    if wrong and row and data is None:
        return Entering(episode, DayForm(initial={"day": wrong.day}, label_suffix=""), _lines([row]), wrong)
    if data is None:
        empty = rows(offer, None, len(offer.printed))
        page = Entering(episode, DayForm(initial={"day": today}, label_suffix=""), _lines(empty))
        page.fault = entered_meanwhile(actor, episode_id, asked, (), at=at)
        return page
    count = count_of(data, offer) + (MORE if "more" in data else 0)
    page = Entering(
        episode, DayForm(data, label_suffix=""), _lines(rows(offer, data, min(count, MOST))), wrong if row else None
    )
    _show_taken(page, data)
    page.fault = entered_meanwhile(actor, episode_id, asked, [line.form["id"].value() for line in page.lines], at=at)
    return page


def _show_taken(page: Entering, data: Mapping[str, Any]) -> None:
    """Rows of which the page says that they were taken are shown so; sent again they are judged again all the same."""
    for number, line in enumerate(page.lines):
        said = data.get(f"row{number}-taken")
        if said in TAKEN and page.day.is_valid() and line.form.is_bound and line.form.is_valid() and line.form.typed:
            _tell(line, _fact(page, line.form, number), Verdict(None, said))


def entered(actor: Staff, page: Entering) -> Entering:
    """Record what the rows tell that say enough; the others stay as they are, each with what is missing. Nothing where
    somebody has entered it again meanwhile."""
    if page.fault:
        return page
    typed = filled(line.form for line in page.lines)
    ready = [form for form in typed if form.is_valid()]
    if not page.day.is_valid():
        page.fault = _("Say on which day this was. Nothing was recorded yet.")
    elif not typed:
        page.fault = _("No row says anything yet. Nothing was recorded.")
    elif ready:
        _record(actor, page, ready)
    for line in page.lines:
        if line.form in typed and line.form not in ready:
            line.outcome, line.mark, line.words = "incomplete", "check", _("not recorded yet")
    return page


def _record(actor: Staff, page: Entering, ready: Sequence[RowForm]) -> None:
    episode = page.episode
    numbers = {line.form: number for number, line in enumerate(page.lines)}
    facts = {form: _fact(page, form, numbers[form]) for form in ready}
    rows = list(facts.values())
    session = [] if page.again else session_facts(rows, _sessions(page), last_seq=MOST)
    try:
        recorded = record_entries(actor=actor, episode_id=episode.pk, entries=around(rows, session))
    except Refusal as refusal:
        if refusal.status in (403, 404):
            raise
        page.fault = refusal.sentence
        return
    became = {verdict.id: verdict for verdict in recorded.verdicts}
    verdicts = [became[fact["id"]] for fact in rows]
    for form, verdict in zip(ready, verdicts, strict=True):
        _tell(page.lines[numbers[form]], facts[form], verdict)
    taken = next((one.id for one in verdicts if one.outcome in TAKEN), None)
    if page.again and page.again.refused and taken:
        _see_to(actor, page, page.again.refused, UUID(taken))
    page.raised, page.counts = recorded.raised, _counted(verdicts)
    accepted = [fact for fact in session if became[fact["id"]].outcome == "accepted"]
    page.session = session_told(accepted, episode.site.time_zone)
    page.check_first = first_lines(standing_of(episode.pk, at=clock.now()).board.get("check_first", ()))


def _sessions(page: Entering) -> Sequence[Session]:
    """Those of the sheet's day that the record knows of."""
    episode, start = page.episode, clock.day_starts(page.day.cleaned_data["day"], page.episode.site.time_zone)
    return sessions_of_day([episode.pk], start=start).get(episode.pk, ())


def _see_to(actor: Staff, page: Entering, refused: UUID, entry: UUID) -> None:
    settle_refused(actor=actor, refused_id=refused, again_as=entry)
    waiting = critical_waiting(actor, at=clock.now(), may=Action.ACKNOWLEDGE_ALERT)
    page.seen_to = True
    page.alert_waits = waiting.filter(episode_id=page.episode.pk, entry=refused).exists()


def _counted(verdicts: Iterable[Verdict]) -> dict[str, int]:
    """How many rows had which outcome, in words."""
    return dict(Counter(OUTCOMES.get(verdict.outcome, verdict.outcome) for verdict in verdicts))


def _fact(page: Entering, form: RowForm, number: int) -> dict[str, Any]:
    day, zone = page.day.cleaned_data["day"], page.episode.site.time_zone
    return fact_of(form.cleaned_data, number, day, zone)


def _tell(line: Line, fact: Mapping[str, Any], verdict: Verdict) -> None:
    outcome = line.outcome = verdict.outcome
    line.mark, line.words, line.error = MARKS[outcome], OUTCOMES[outcome], said(verdict.error or "")
    if line.done:
        line.told = " · ".join(part for part in (*tell(fact)[:2], worded(fact.get("result", ""), "result")) if part)


def _lines(forms: Sequence[RowForm]) -> list[Line]:
    return [Line(form) for form in forms]


def _episode(actor: Staff, episode_id: UUID, at: datetime) -> Episode:
    found: Episode = access.get(
        actor, Action.RECORD, Episode.objects.select_related("person", "site", "head"), at=at, pk=episode_id
    )
    return found
