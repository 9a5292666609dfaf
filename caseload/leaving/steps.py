"""Inner steps of handing on what is in somebody's hands. They open no transaction; the caller has permitted."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

from django.db.backends.postgresql.psycopg_any import DateTimeTZRange

from caseload.assignment.models import Assignment, Cover, ahead
from caseload.assignment.steps import begin_assignment, cut_cover, end_standing
from caseload.episode.models import Episode
from caseload.visit.steps import hand_on_visits
from clinic.audit import trail
from clinic.outbox.post import publish
from clinic.staff.models import Staff


def hand_on(episode_id: UUID, leaving: Staff, to: Staff | None, *, actor: Staff, at: datetime, reason: str) -> None:
    """Whatever of one person is in the hands of who leaves goes to a colleague now; to nobody where none is named.

    To nobody, the person is on the lead's list of those whom nobody carries, and the sessions stay planned.
    """
    episode = Episode.objects.select_for_update(no_key=True, of=("self",)).select_related("site").get(pk=episode_id)
    _assignments(episode, leaving, to, actor=actor, at=at, reason=reason)
    _covers(episode, leaving, to, actor=actor, at=at, reason=reason)
    _visits(episode, leaving, to, actor=actor, at=at)


def _assignments(
    episode: Episode, leaving: Staff, to: Staff | None, *, actor: Staff, at: datetime, reason: str
) -> None:
    """The one that stands ends now and the colleague's begins; one that was to begin later never does."""
    rows = list(Assignment.objects.filter(ahead(at), episode=episode, staff=leaving).order_by("period"))
    for row in rows:
        since = max(row.period.lower or at, at)
        if since == at:
            end_standing(episode, actor=actor, at=at, end=at, reason=reason)
        else:
            row.period, row.version = DateTimeTZRange(row.period.lower, row.period.lower), row.version + 1
            row.save(update_fields=["period", "version"])
            detail = {"version": row.version, "staff": leaving.reference, "reason": reason[:400]}
            trail.record(actor, "assignment.ended", "assignment", row.pk, at=at, episode=episode.pk, detail=detail)
        if to is not None:
            begin_assignment(episode, to, actor=actor, at=at, since=since, reason=reason)


def _covers(episode: Episode, leaving: Staff, to: Staff | None, *, actor: Staff, at: datetime, reason: str) -> None:
    """A cover that they had taken on goes to the colleague for the days that are left; else it falls to who carries."""
    for cover in Cover.objects.filter(ahead(at), episode=episode, staff=leaving).select_related("staff"):
        left = DateTimeTZRange(max(cover.period.lower, at), cover.period.upper)
        cut_cover(cover, actor=actor, at=at, end=at)
        if to is None or Assignment.objects.filter(episode=episode, staff=to, period__overlap=left).exists():
            continue
        taken = Cover.objects.create(episode=episode, staff=to, period=left, made_by=actor, reason=reason[:400])
        until = left.upper.isoformat() if left.upper else None
        detail = {"version": 1, "staff": to.reference, "from": left.lower.isoformat(), "until": until}
        trail.record(actor, "cover.arranged", "cover", taken.pk, at=at, episode=episode.pk, detail=detail)
        news = {"episode": str(episode.pk), "reference": episode.reference, "staff": str(to.pk)}
        news |= {"given": str(taken.pk), "from": left.lower.isoformat(), "until": until or ""}
        publish("cover.arranged", news, at=at, dedupe_key=f"cover.arranged:{taken.pk}")


def _visits(episode: Episode, leaving: Staff, to: Staff | None, *, actor: Staff, at: datetime) -> None:
    """Sessions planned with them are with the colleague, or with whoever carries the person."""
    carrier = Assignment.objects.filter(episode=episode, period__contains=at).select_related("staff").first()
    host = to or (carrier.staff if carrier is not None else None)
    if host is None or host.pk == leaving.pk:
        return
    hand_on_visits(episode.pk, leaving.pk, host, actor=actor, at=at)
