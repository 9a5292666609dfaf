"""Sessions: begun, used, shown to their owner, ended. Ended means ended at the next request, wherever it comes from.

A browser's session names its row here, and a row names the token of a programme. Every request asks for its row, and
what has no row is no session. Idle and absolute limits are kept where requests come in (clinic/web/entrance.py).
"""

from __future__ import annotations

from collections.abc import Sequence
from contextvars import ContextVar, Token
from dataclasses import dataclass
from datetime import datetime, timedelta
from uuid import UUID

from django.conf import settings
from django.db import transaction
from django.db.models import Q, QuerySet
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from knox.models import AuthToken

from clinic import access, clock
from clinic.access import Action, Assurance, assurance
from clinic.audit import trail
from clinic.errors import NotFound
from clinic.language.text import Text
from clinic.staff import agents
from clinic.staff.models import Staff
from clinic.staff.session_models import Door, StaffSession, Tablet

SEEN_EVERY = timedelta(minutes=1)  # 'last used' is not written for every click
KEPT = timedelta(days=400)  # so that a look through the accounts sees when each was used last
_here: ContextVar[UUID | None] = ContextVar("session_here", default=None)


@dataclass(frozen=True, slots=True)
class Shown:
    """A session as its owner reads it."""

    id: UUID
    began_at: datetime
    seen_at: datetime
    ends_at: datetime
    address: str
    device: str
    how: str
    here: bool


HOW: dict[Assurance, Text] = {
    Assurance.PIN: gettext_lazy("PIN"),
    Assurance.PASSWORD: gettext_lazy("password"),
    Assurance.TWO_FACTORS: gettext_lazy("password and second factor"),
}


def here() -> UUID | None:
    """The session in which the work in hand was asked for."""
    return _here.get()


def come_to(session: StaffSession) -> Token[UUID | None]:
    """The work in hand is of this session; give the token to `left` afterwards."""
    return _here.set(session.pk)


def nowhere() -> Token[UUID | None]:
    """Nobody has come in yet; give the token to `left` afterwards."""
    return _here.set(None)


def left(token: Token[UUID | None]) -> None:
    """The request is over."""
    _here.reset(token)


def begin(
    staff: Staff,
    shown: Assurance,
    *,
    at: datetime,
    agent: str = "",
    tablet: Tablet | None = None,
    token: AuthToken | None = None,
) -> StaffSession:
    """Write down that a session begins: how they showed who they are, from where, with which kind of device."""
    return StaffSession.objects.create(
        staff=staff,
        door=Door.TOKEN if token is not None else Door.PAGE,
        assurance=shown,
        tablet=tablet,
        token=token.digest if token is not None else "",
        began_at=at,
        seen_at=at,
        address=trail.came_from().address,
        agent=agent,
    )


def live(session_id: str | None, staff: Staff) -> StaffSession | None:
    """The session of a browser of this person's, while it has not ended."""
    if session_id is None:
        return None
    rows = StaffSession.objects.select_related("tablet").filter(ended_at__isnull=True, door=Door.PAGE)
    return rows.filter(pk=session_id, staff=staff).first()


def of_token(token: AuthToken) -> StaffSession | None:
    """The session of a programme's token, while it has not ended."""
    return StaffSession.objects.filter(token=token.digest, staff_id=token.user_id, ended_at__isnull=True).first()


def note_use(session: StaffSession, at: datetime) -> None:
    """Somebody uses it: kept to the minute."""
    if at - session.seen_at >= SEEN_EVERY:
        StaffSession.objects.filter(pk=session.pk, seen_at__lt=at).update(seen_at=at)


def raise_to(shown: Assurance) -> None:
    """In the session in hand more was shown than when it began. An inner step."""
    StaffSession.objects.filter(pk__in=_one(here()), assurance__lt=shown).update(assurance=shown)
    if assurance.shown() < shown:
        assurance.come_in(shown)


# --- shown -----------------------------------------------------------------------------------------------------------
def sessions_of(staff: Staff, *, at: datetime) -> list[Shown]:
    """The sessions of somebody's that are open, the last used first."""
    rows = open_sessions(staff, at=at).select_related("tablet").order_by("-seen_at")
    expiry = dict(AuthToken.objects.filter(user=staff).values_list("digest", "expiry"))
    return [_shown(row, expiry.get(row.token)) for row in rows]


def open_sessions(staff: Staff, *, at: datetime) -> QuerySet[StaffSession]:
    """Those that nobody has ended and that no limit has."""
    tokens = AuthToken.objects.filter(user=staff, expiry__gt=at).values("digest")
    rows = StaffSession.objects.filter(staff=staff, ended_at__isnull=True)
    oldest, idle = (
        at - timedelta(hours=settings.SESSION_HOURS),
        at - timedelta(seconds=settings.IDLE_SECONDS) - SEEN_EVERY,
    )
    pages = rows.filter(door=Door.PAGE, began_at__gt=oldest, seen_at__gt=idle)
    return pages | rows.filter(door=Door.TOKEN, token__in=tokens)


def _shown(row: StaffSession, expiry: datetime | None) -> Shown:
    where = agents.said(row.agent)
    if row.tablet:
        where = _("{tablet} (gym tablet), {device}").format(tablet=row.tablet.name, device=where)
    return Shown(
        id=row.pk,
        began_at=row.began_at,
        seen_at=row.seen_at,
        ends_at=expiry or row.began_at + timedelta(hours=settings.SESSION_HOURS),
        address=row.address,
        device=where if row.door == Door.PAGE else _("API token, {device}").format(device=agents.said(row.agent)),
        how=str(HOW[Assurance(row.assurance)]),
        here=row.pk == here(),
    )


# --- ended -----------------------------------------------------------------------------------------------------------
@transaction.atomic(durable=True)
def end_session(*, actor: Staff, session_id: UUID) -> None:
    """End one of one's own sessions. Ended already: nothing changes."""
    at = clock.now()
    assurance.need(Assurance.PASSWORD)
    row = StaffSession.objects.filter(staff=actor, pk=session_id).first()
    if row is None:
        raise NotFound(_("You have no such session."))
    _end([row], actor, "ended by its owner", at=at)


@transaction.atomic(durable=True)
def end_others(*, actor: Staff) -> int:
    """End every session of one's own but the one in hand; returns how many."""
    at = clock.now()
    assurance.need(Assurance.PASSWORD)
    return end_all_but(actor, here(), by=actor, why="ended by its owner", at=at)


@transaction.atomic(durable=True)
def end_sessions_of(*, actor: Staff, staff_id: UUID) -> int:
    """A lead ends every session and token of somebody's; returns how many."""
    at = clock.now()
    staff = access.get(actor, Action.MANAGE_STAFF, Staff.objects.all(), at=at, pk=staff_id)
    return end_all_but(staff, here() if staff == actor else None, by=actor, why="ended by a clinic lead", at=at)


def end_all_but(staff: Staff, kept: UUID | None, *, by: Staff | None, why: str, at: datetime) -> int:
    """End the sessions and tokens of somebody's, but one. An inner step: opens no transaction."""
    rows = list(StaffSession.objects.filter(staff=staff, ended_at__isnull=True).exclude(pk__in=_one(kept)))
    AuthToken.objects.filter(user=staff).exclude(digest__in=_kept_token(kept)).delete()
    return _end(rows, by, why, at=at)


def end_on_tablet(tablet: Tablet, *, by: Staff, at: datetime) -> int:
    """End whatever is open on a tablet. An inner step."""
    rows = list(StaffSession.objects.filter(tablet=tablet, ended_at__isnull=True).select_related("staff"))
    return _end(rows, by, "tablet revoked", at=at)


def end_by_pin(staff: Staff, *, by: Staff | None, at: datetime) -> int:
    """End what a PIN of somebody's has opened. An inner step."""
    rows = StaffSession.objects.filter(staff=staff, assurance=Assurance.PIN, ended_at__isnull=True)
    return _end(list(rows.select_related("staff")), by, "PIN ended", at=at)


def _kept_token(kept: UUID | None) -> list[str]:
    return list(StaffSession.objects.filter(pk__in=_one(kept), door=Door.TOKEN).values_list("token", flat=True))


def _one(session_id: UUID | None) -> list[UUID]:
    return [session_id] if session_id else []


def _end(rows: Sequence[StaffSession], by: Staff | None, why: str, *, at: datetime) -> int:
    """Mark them as ended, make their tokens worthless, account for each."""
    standing = [row for row in rows if row.ended_at is None]
    AuthToken.objects.filter(digest__in=[row.token for row in standing if row.token]).delete()
    StaffSession.objects.filter(pk__in=[row.pk for row in standing]).update(ended_at=at, ended_why=why)
    for row in standing:
        detail = {"session": str(row.pk), "why": why}
        trail.record(by, "session.ended", "staff", row.staff.reference, at=at, detail=detail)
    return len(standing)


def close_over(at: datetime) -> int:
    """Mark those of browsers that a limit has ended and whose browser never came back. An inner step."""
    oldest, idle = (
        at - timedelta(hours=settings.SESSION_HOURS),
        at - timedelta(seconds=settings.IDLE_SECONDS) - SEEN_EVERY,
    )
    rows = StaffSession.objects.filter(ended_at__isnull=True, door=Door.PAGE)
    return rows.filter(Q(began_at__lte=oldest) | Q(seen_at__lte=idle)).update(ended_at=at, ended_why="limit reached")


def forget(at: datetime) -> int:
    """Rows of sessions that ended long ago go; the trail keeps that they were. An inner step."""
    return StaffSession.objects.filter(ended_at__lt=at - KEPT).delete()[0]


def sign_out(actor: Staff) -> None:
    """Somebody signs out."""
    _over(actor, "session.closed", "signed out")


def hand_over(actor: Staff) -> None:
    """Somebody gives the gym's tablet to a colleague."""
    _over(actor, "session.handed_over", "handed over")


def time_out(actor: Staff) -> None:
    """Nobody used a session for too long, or it is too old."""
    _over(actor, "session.timed_out", "limit reached")


def _over(actor: Staff, verb: str, why: str) -> None:
    at = clock.now()
    StaffSession.objects.filter(pk__in=_one(here()), staff=actor, ended_at__isnull=True).update(
        ended_at=at, ended_why=why
    )
    trail.record(actor, verb, "staff", actor.reference, at=at)
