"""What the page 'Your sign-in' shows, and what a lead sees of somebody's factors: never a secret."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from clinic.access import Assurance, assurance
from clinic.staff.factors.check import MOST_FAILURES
from clinic.staff.factors.models import Factor, Kind, good_codes, in_use
from clinic.staff.factors.policy import Moment, requires
from clinic.staff.models import Staff


@dataclass(frozen=True, slots=True)
class FactorRow:
    """One factor. `shut`: after too many wrong codes in a row it opens nothing any more."""

    id: UUID
    name: str
    kind: str
    added_at: datetime
    used_at: datetime | None
    shut: bool


@dataclass(frozen=True, slots=True)
class SignInPage:
    """One's own sign-in. `must_add`: a factor is needed before anything else."""

    factors: list[FactorRow]
    codes_left: int
    needed: bool
    must_add: bool
    identity_checked_at: datetime | None
    identity_check: str


def factors_of(staff: Staff) -> list[FactorRow]:
    """The factors that somebody has, oldest first."""
    return [_row(row) for row in in_use(staff).order_by("added_at")]


def sign_in_page(actor: Staff, *, at: datetime) -> SignInPage:
    """Everything about how the actor signs in."""
    factors = factors_of(actor)
    needed = requires(actor.roles_on(at.date()), Moment.SIGN_IN)
    return SignInPage(
        factors=factors,
        codes_left=good_codes(actor).count(),
        needed=needed,
        must_add=needed and assurance.shown() < Assurance.TWO_FACTORS,
        identity_checked_at=actor.identity_checked_at,
        identity_check=actor.identity_check,
    )


def own_factor(actor: Staff, factor_id: UUID) -> FactorRow | None:
    """One of the actor's own."""
    row = in_use(actor).filter(pk=factor_id).first()
    return _row(row) if row else None


def _row(row: Factor) -> FactorRow:
    return FactorRow(
        id=row.pk,
        name=row.name,
        kind=str(Kind(row.kind).label),
        added_at=row.added_at,
        used_at=row.used_at,
        shut=row.failures >= MOST_FAILURES,
    )
