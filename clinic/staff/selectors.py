"""Who works here, as what, and what their papers allow on a day."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID

from django.db.models import Count, Q, QuerySet
from django.utils.translation import gettext as _

from clinic import access
from clinic.access import POLICY, Action, Scope
from clinic.staff.factors.selectors import FactorRow, factors_of
from clinic.staff.models import Authorisation, Registration, RoleTerm, Site, Staff
from clinic.staff.move_models import SiteMove
from clinic.staff.moves import waiting
from clinic.staff.role_spans import held_roles
from clinic.staff.roles import KneeFeature
from clinic.staff.session_models import Pin
from clinic.staff.sessions import open_sessions
from clinic.staff.terms import Held, Standing, held


@dataclass(frozen=True, slots=True)
class Authorised:
    """One knee feature, and how somebody's authorisation for it stands."""

    feature: str
    title: str
    held: Held


@dataclass(frozen=True, slots=True)
class StaffRow:
    """A line of the staff list."""

    id: UUID
    name: str
    reference: str
    username: str
    site: str
    roles: list[str]  # each with its last day, where one is given
    registration: Held
    authorisations: list[Authorised]
    is_active: bool
    password_given: bool


@dataclass(frozen=True, slots=True)
class StaffPage:
    """One member of staff with all their papers, newest first."""

    row: StaffRow
    staff: Staff
    roles: list[RoleTerm]
    registrations: list[tuple[Registration, Held]]
    authorisations: list[tuple[Authorisation, Held]]
    open_sessions: int
    pin: Pin | None
    move: SiteMove | None
    factors: list[FactorRow]

    @property
    def renewable(self) -> set[UUID]:
        """The authorisations to renew: the last of its feature, where that has ended or ends soon."""
        last: dict[str, tuple[Authorisation, Held]] = {}
        for paper, stands in self.authorisations:  # of each feature the one that lasts longest comes first
            if paper.withdrawn_at is None:
                last.setdefault(paper.feature, (paper, stands))
        late = (Standing.EXPIRED, Standing.EXPIRING)
        return {paper.pk for paper, stands in last.values() if self.row.is_active and stands.standing in late}


def who_may(action: Action, *, at: datetime) -> QuerySet[Staff]:
    """Those whose roles of today open an action, by name: for a page that says whom to ask."""
    held = {"role_terms__role__in": list(POLICY[action]), "role_terms__period__contains": at.date()}
    return Staff.objects.filter(is_active=True, **held).distinct().order_by("name")


def who_reaches(action: Action, site_id: UUID, *, at: datetime) -> QuerySet[Staff]:
    """Those of them whose roles open an action for everybody of a site, by name."""
    scopes = POLICY[action].items()
    everywhere = [role for role, scope in scopes if scope is Scope.ALL]
    here = [role for role, scope in scopes if scope is Scope.SITE]
    held = Q(role_terms__role__in=everywhere) | Q(role_terms__role__in=here, site_id=site_id)
    rows = Staff.objects.filter(held, is_active=True, role_terms__period__contains=at.date())
    return rows.distinct().order_by("name")


def staff_list(actor: Staff, *, at: datetime, role: str = "", former: bool = False) -> list[StaffRow]:
    """The staff, by name: those who work here, or those who used to; of one role, where one is given."""
    day = at.date()
    rows = access.scoped(actor, Action.SEE_STAFF, Staff.objects.all(), at=at).filter(is_active=not former)
    if role:
        rows = rows.filter(role_terms__role=role, role_terms__period__contains=day)
    related = rows.select_related("site").prefetch_related("role_terms", "registrations", "authorisations")
    return [_row(staff, day) for staff in related.order_by("name")]


def staff_page(actor: Staff, staff_id: UUID, *, at: datetime) -> StaffPage:
    """One member of staff."""
    day = at.date()
    rows = Staff.objects.select_related("site").prefetch_related(
        "role_terms", "registrations", "authorisations__granted_by"
    )
    staff = access.get(actor, Action.SEE_STAFF, rows, at=at, pk=staff_id)
    registrations = sorted(staff.registrations.all(), key=lambda paper: paper.expires_on, reverse=True)
    granted = sorted(staff.authorisations.all(), key=lambda paper: (paper.feature, paper.expires_on), reverse=True)
    return StaffPage(
        row=_row(staff, day),
        staff=staff,
        roles=sorted(staff.role_terms.all(), key=lambda term: term.period.lower, reverse=True),
        registrations=[(paper, held([(paper.starts_on, paper.expires_on)], day)) for paper in registrations],
        authorisations=[(paper, held([(paper.starts_on, paper.expires_on)], day)) for paper in granted],
        open_sessions=open_sessions(staff, at=at).count(),
        pin=Pin.objects.filter(staff=staff).first(),
        move=waiting().filter(staff=staff).first(),
        factors=factors_of(staff),
    )


def sites(actor: Staff, *, at: datetime) -> QuerySet[Site]:
    """The sites and how many work at each."""
    access.permit(actor, Action.SEE_STAFF, at)
    return Site.objects.annotate(people=Count("staff", filter=Q(staff__is_active=True))).order_by("name")


def _row(staff: Staff, day: date) -> StaffRow:
    """A line from what was fetched beforehand: no further query."""
    registered = [(paper.starts_on, paper.expires_on) for paper in staff.registrations.all()]
    return StaffRow(
        id=staff.pk,
        name=staff.name,
        reference=staff.reference,
        username=staff.username,
        site=staff.site.name,
        roles=[one.words(day) for one in held_roles(staff.role_terms.all(), day)] or [_("no role today")],
        registration=held(registered, day),
        authorisations=[
            Authorised(value, str(title), _granted(staff, value, day)) for value, title in KneeFeature.choices
        ],
        is_active=staff.is_active,
        password_given=staff.password_given_at is not None,
    )


def _granted(staff: Staff, feature: str, day: date) -> Held:
    papers = [p for p in staff.authorisations.all() if p.feature == feature and p.withdrawn_at is None]
    return held([(paper.starts_on, paper.expires_on) for paper in papers], day)
