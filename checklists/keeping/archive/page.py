"""The page of an archive: what a person reads and prints, with no server behind it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

import orjson
from django.conf import settings
from django.template.loader import render_to_string
from django.utils import timezone
from django.utils.safestring import mark_safe

from caseload.models import Episode, Person, PlannedReview, Referral, Visit
from checklists.alerts.models import Alert, AlertStep
from checklists.alerts.rules import words_of
from checklists.keeping.archive.tables import trail_about
from checklists.keeping.corrections import Correction, corrections_of
from checklists.person.timeline import Line, by_day, whole_timeline
from checklists.pictures import names
from checklists.record import protocols
from checklists.record.models import Head, HeldEntry, RefusedEntry, SignedEvidence
from clinic.language.tags import speaking_to

STYLE = Path(__file__).with_name("archive.css")


@dataclass(frozen=True, slots=True)
class Raised:
    """An alert with what was done about it."""

    at: datetime
    severity: str
    sentence: str
    open: bool
    steps: Sequence[AlertStep]


@dataclass(frozen=True, slots=True)
class Signed:
    """A signature with what stood on the screen."""

    row: SignedEvidence
    title: str
    reasons: Sequence[str]
    attempts: int


@dataclass(frozen=True, slots=True)
class Chapter:
    """One episode."""

    episode: Episode
    statuses: Sequence[tuple[str, str]]
    days: Sequence[tuple[date, list[Line]]]
    signed: Sequence[Signed]
    alerts: Sequence[Raised]
    corrections: Sequence[Correction]
    refused: Sequence[RefusedEntry]
    held: Sequence[HeldEntry]
    visits: Sequence[Visit]
    reviews: Sequence[PlannedReview]


def page(person: Person, *, at: datetime, asked_by: str) -> bytes:
    """One HTML page that holds everything a reader needs: prints as it is, and needs nothing from anywhere."""
    with speaking_to(person.language):
        chapters = [_chapter(episode) for episode in person.episodes.select_related("site").order_by("created_at")]
    context = {
        "person": person,
        "at": at,
        "asked_by": asked_by,
        "clinic": settings.CLINIC_NAME,
        "css": mark_safe(STYLE.read_text(encoding="utf-8")),  # noqa: S308 - our own file
        "chapters": chapters,
        "referrals": Referral.objects.filter(person=person).order_by("received_on"),
        "trail": trail_about(person).select_related("actor"),
    }
    with timezone.override(ZoneInfo(person.site.time_zone)), speaking_to(person.language):
        return render_to_string("keeping/archive.html", context).encode()


def _chapter(episode: Episode) -> Chapter:
    head = Head.objects.filter(pk=episode.pk).first()
    skills: Mapping[str, Any] = head.board.get("skills", {}) if head else {}
    order = [key for key in protocols.loaded(head.protocol_id).skills if key in skills] if head else []
    return Chapter(
        episode=episode,
        statuses=[(names.short(key, key), skills[key]["status"]) for key in order],
        days=by_day(whole_timeline(episode.pk), episode.site.time_zone),
        signed=[
            _signed(row)
            for row in SignedEvidence.objects.filter(entry__episode=episode).select_related("entry__signature")
        ],
        alerts=_alerts(episode.pk, head),
        corrections=corrections_of([episode.pk]).get(episode.pk, ()),
        refused=list(RefusedEntry.objects.filter(episode=episode).select_related("sender").order_by("received_at")),
        held=list(HeldEntry.objects.filter(episode=episode).select_related("sender").order_by("received_at")),
        visits=list(Visit.objects.filter(episode=episode).select_related("staff").order_by("starts_at")),
        reviews=list(PlannedReview.objects.filter(episode=episode).order_by("due_on")),
    )


def _signed(row: SignedEvidence) -> Signed:
    shown = orjson.loads(row.evidence)
    return Signed(row, shown.get("title", row.skill), shown.get("reasons", ()), len(shown.get("attempts", ())))


def _alerts(episode_id: UUID, head: Head | None) -> list[Raised]:
    if head is None:
        return []
    protocol = protocols.loaded(head.protocol_id)
    rows = Alert.objects.filter(episode=episode_id).prefetch_related("steps__by").order_by("happened_at", "rule")
    return [
        Raised(row.happened_at, row.severity, words_of(protocol, row.rule)[0], row.open, list(row.steps.all()))
        for row in rows
    ]
