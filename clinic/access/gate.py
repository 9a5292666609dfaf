"""Asking the table: may this person do this at all, and to which rows?"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from typing import TYPE_CHECKING, Any, Protocol, TypeVar, cast

from django.db.models import Model, Q, QuerySet
from django.utils.translation import gettext as _

from clinic.access import assurance
from clinic.access.assurance import Assurance
from clinic.access.policy import IN_EMERGENCY, POLICY, Action
from clinic.access.scope import Scope
from clinic.access.words import words_of
from clinic.errors import Denied, NotFound
from clinic.language.dates import listed

if TYPE_CHECKING:
    from clinic.staff.models import Staff
    from clinic.staff.roles import Role

M = TypeVar("M", bound=Model)
_WIDEST_FIRST = (Scope.ALL, Scope.SITE, Scope.OWN)


class Scoped(Protocol):
    """A model whose rows belong to somebody."""

    @classmethod
    def within(cls, actor: Staff, scope: Scope, at: datetime) -> Q:
        """The filter on this model's rows for a scope of the actor's."""


def reach(actor: Staff, action: Action, at: datetime) -> Scope | None:
    """How far an action of this person's reaches at an instant; nothing where it is refused."""
    return reach_of(actor.roles_on(at.date()), action) if actor.is_active else None


def reach_of(roles: Iterable[Role], action: Action) -> Scope | None:
    """How far an action reaches for whoever holds these roles: the widest that the table gives to one of them.

    Every fence asks here, so that none is open wider than what whoever is in hand has shown (clinic.access.assurance).
    """
    if not assurance.allows(action):
        return None
    allowed = POLICY[action]
    held = {allowed[role] for role in roles if role in allowed}
    return next((scope for scope in _WIDEST_FIRST if scope in held), None)


def permit(actor: Staff, action: Action, at: datetime) -> Scope:
    """The reach of an action, or Denied where the table has none for this person."""
    scope = reach(actor, action, at)
    if scope is None:
        _unless_more_was_needed(action)
        raise Denied(
            _("Your role does not include this ({action}). Whose it is: {roles}.").format(
                action=words_of(action), roles=listed([str(role.label) for role in POLICY[action]])
            )
        )
    return scope


def scoped(actor: Staff, action: Action, rows: QuerySet[M], *, at: datetime) -> QuerySet[M]:
    """The rows on which this person may do this at this instant; none where the table refuses."""
    scope = reach(actor, action, at)
    if scope is None:
        return rows.none()
    model = cast("type[Scoped]", rows.model)
    seen = model.within(actor, scope, at)
    if action in IN_EMERGENCY and scope is not Scope.ALL and hasattr(model, "in_emergency"):
        seen |= model.in_emergency(actor, at)
    return rows.filter(seen)


def get(actor: Staff, action: Action, rows: QuerySet[M], *, at: datetime, **lookup: Any) -> M:
    """One row by the same filter as the list. Not visible: NotFound. Visible, but not theirs to do: Denied."""
    found = scoped(actor, action, rows, at=at).filter(**lookup).first()
    if found is not None:
        return found
    _unless_more_was_needed(action)
    seen = scoped(actor, Action.SEE_PERSON, rows, at=at).filter(**lookup)
    seen.query.select_for_update = False  # the database lets nobody lock what they may not change
    if action is not Action.SEE_PERSON and seen.exists():
        raise Denied(
            _("You may see this, but not do this ({action}). Ask a clinic lead.").format(action=words_of(action))
        )
    raise NotFound(_("There is nothing here that you may see. Check the link, or ask a clinic lead."))


def _unless_more_was_needed(action: Action) -> None:
    """Say that it was the PIN and not the role."""
    if not assurance.allows(action):
        assurance.need(Assurance.PASSWORD)
