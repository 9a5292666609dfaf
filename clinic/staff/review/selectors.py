"""What a lead looks at when the accounts are looked through. Every number is the clinic's default, no source."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from uuid import UUID

from django.db.models import Count, Max, Q
from django.utils.translation import gettext as _

from clinic import access
from clinic.access import POLICY, Action
from clinic.language import dates
from clinic.staff.factors.policy import Moment, requires
from clinic.staff.models import Staff
from clinic.staff.moves import waiting
from clinic.staff.review.models import AccountReview
from clinic.staff.role_spans import held_roles
from clinic.staff.roles import Role
from clinic.staff.tablet.selectors import TabletRow, tablets
from clinic.staff.terms import Standing, held

UNUSED = timedelta(days=90)
ENDS_SOON = timedelta(days=42)
AGAIN_AFTER = timedelta(days=182)
SIGNERS = frozenset(POLICY[Action.SIGN_OFF]) | frozenset(POLICY[Action.RECORD_SETTING])


@dataclass(frozen=True, slots=True)
class Account:
    """One account with what there is to look at, in sentences."""

    id: UUID
    name: str
    reference: str
    roles: str
    last_used: datetime | None
    findings: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Review:
    """The accounts with something to look at, the tablets too, and when they were looked through last."""

    accounts: Sequence[Account]
    quiet: int
    tablets: Sequence[TabletRow]
    last: AccountReview | None
    overdue: bool

    @property
    def findings(self) -> int:
        """How many accounts and tablets there are to look at."""
        return len(self.accounts) + len(self.tablets)


def account_review(actor: Staff, *, at: datetime) -> Review:
    """Everybody who has an account, looked through. A fixed number of statements."""
    rows = access.scoped(actor, Action.MANAGE_STAFF, Staff.objects.filter(is_active=True), at=at)
    rows = rows.annotate(
        last_used=Max("sessions__seen_at"), factors_in_use=Count("factors", Q(factors__removed_at=None), distinct=True)
    )
    everybody = rows.select_related("pin").prefetch_related("role_terms", "registrations").order_by("name")
    to_move = {
        move.staff_id: _("moves to {site} on {day}").format(site=move.site.name, day=dates.day(move.on_day))
        for move in waiting()
    }
    listed = [_account(staff, to_move.get(staff.pk, ""), at) for staff in everybody]
    found = [account for account in listed if account.findings]
    last = AccountReview.objects.select_related("by").order_by("-at").first()
    return Review(
        accounts=found,
        quiet=len(listed) - len(found),
        tablets=[row for row in tablets(actor, at=at) if row.standing in ("unseen", "expired")],
        last=last,
        overdue=last is None or at - last.at > AGAIN_AFTER,
    )


def _account(staff: Staff, move: str, at: datetime) -> Account:
    day = at.date()
    spans = [one for one in held_roles(staff.role_terms.all(), day) if one.first_day <= day]
    roles = {one.role for one in spans}
    last_used: datetime | None = staff.last_used  # type: ignore[attr-defined]  # annotated above
    said = (
        _unused(staff, last_used, at),
        "" if roles else _("no role today"),
        *(one.ends for one in spans if one.last_day and one.last_day - day < ENDS_SOON),
        _registration(staff, roles, day),
        _factor(staff, roles),
        "" if staff.identity_checked_at or not roles & SIGNERS else _("identity not checked: they sign nothing"),
        _("given a password on {day}, not yet their own").format(day=dates.day(staff.password_given_at))
        if staff.password_given_at
        else "",
        _("PIN locked after wrong tries") if _pin_locked(staff) else "",
        move,
    )
    words = ", ".join(sorted(str(role.label) for role in roles))
    return Account(staff.pk, staff.name, staff.reference, words, last_used, tuple(filter(None, said)))


def _unused(staff: Staff, last_used: datetime | None, at: datetime) -> str:
    if (at - (last_used or staff.joined_at)).days <= UNUSED.days:
        return ""
    return _("not used for {days}").format(days=dates.days((at - last_used).days)) if last_used else _("never used")


def _registration(staff: Staff, roles: set[Role], day: date) -> str:
    if not roles & SIGNERS:
        return ""
    paper = held([(paper.starts_on, paper.expires_on) for paper in staff.registrations.all()], day)
    if paper.standing is Standing.CURRENT:
        return ""
    return _("registration {state}").format(state=paper.words) if paper.until else _("no registration")


def _factor(staff: Staff, roles: set[Role]) -> str:
    needed = requires(roles, Moment.SIGN_IN) or bool(roles & SIGNERS)
    return _("no second factor") if needed and not staff.factors_in_use else ""  # type: ignore[attr-defined]  # annotated above


def _pin_locked(staff: Staff) -> bool:
    pin = getattr(staff, "pin", None)
    return pin is not None and pin.locked_at is not None
