"""Whose account this is: checked and said in words by somebody else, before they may sign (21 CFR 11.100(b)).

Whoever gave somebody a password or took a factor of theirs away could come in as them; so the next check is for another
to make. The server's keeper, who is neither, can make one by `manage.py check_identity`: a new clinic needs that for
its first two.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.db import transaction
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from clinic import access, clock
from clinic.access import Action
from clinic.audit import trail
from clinic.errors import Conflict, Denied, Invalid, NotFound
from clinic.language import dates
from clinic.staff.factors.models import in_use
from clinic.staff.models import Staff, name_key
from clinic.staff.selectors import who_may

UNCHECKED = gettext_lazy(
    "{name}'s identity has not been checked since the account was made or opened anew: they sign nothing."
)


class NotChecked(Denied):
    """Nobody has checked who this is."""

    code = "identity_not_checked"


@dataclass(frozen=True, slots=True)
class ToCheck:
    """Somebody who waits for a check. `why_not`: why the reader is not the one to make it, and who is."""

    id: UUID
    name: str
    reference: str
    site: str
    why_not: str


def faults(staff: Staff) -> list[str]:
    """What stands against their signing anything; nothing where their identity was checked."""
    return [] if staff.identity_checked_at else [UNCHECKED.format(name=staff.name)]


def require(staff: Staff) -> None:
    """Refuse whoever's identity nobody has checked."""
    for sentence in faults(staff):
        raise NotChecked(sentence)


def waiting(actor: Staff, *, at: datetime) -> list[ToCheck]:
    """Everybody whose identity waits for a check, by name."""
    rows = access.scoped(actor, Action.CHECK_IDENTITY, Staff.objects.select_related("site"), at=at)
    found = rows.filter(identity_checked_at__isnull=True, is_active=True).order_by("name")
    checkers = _checkers(at)
    return [_to_check(actor, row, checkers) for row in found]


def to_check(actor: Staff, staff_id: UUID, *, at: datetime) -> ToCheck:
    """One of them."""
    row = access.get(actor, Action.CHECK_IDENTITY, Staff.objects.select_related("site"), at=at, pk=staff_id)
    return _to_check(actor, row, _checkers(at))


def unchecked(actor: Staff, staff: Staff, *, at: datetime) -> ToCheck | None:
    """The same for their own page; nothing where it is checked, or checking is not the reader's at all."""
    if staff.identity_checked_at or not staff.is_active or access.reach(actor, Action.CHECK_IDENTITY, at) is None:
        return None
    return _to_check(actor, staff, _checkers(at))


@transaction.atomic(durable=True)
def check_identity(*, actor: Staff, staff_id: UUID, how: str) -> Staff:
    """Say that this account is this person's, and how that was made sure. Refused: one's own, whoever let them in since
    the last check, and whoever's own identity nobody has checked."""
    at = clock.now()
    staff = access.get(actor, Action.CHECK_IDENTITY, Staff.objects.select_for_update(of=("self",)), at=at, pk=staff_id)
    if not staff.is_active:
        raise Conflict(_("The account of {staff} is closed.").format(staff=staff.name))
    if why_not := _why_not(actor, staff):
        raise Denied(why_not, code="not_yours_to_check")
    return _checked(staff, actor, how, at)


@transaction.atomic(durable=True)
def check_by_keeper(*, username: str, how: str) -> Staff:
    """The same by whoever keeps the server, who has no account in it."""
    at = clock.now()
    staff = Staff.objects.select_for_update().filter(username_key=name_key(username), is_active=True).first()
    if staff is None:
        raise NotFound(_("Nobody who works here signs in as {username}.").format(username=username))
    return _checked(staff, None, how, at)


def let_in_by(staff: Staff, who: Staff) -> None:
    """Somebody gave them a password or took a factor away: the next check is for another to make. An inner step.

    While a second factor of theirs stands, which nobody else has, the last check goes on holding; else it is over.
    """
    staff.let_in_by = list({*staff.let_in_by, who.pk})
    if not in_use(staff).exists():
        staff.identity_checked_at = staff.identity_checked_by = None
        staff.identity_check = ""
    staff.save(update_fields=["let_in_by", "identity_checked_at", "identity_checked_by", "identity_check"])


def _checked(staff: Staff, by: Staff | None, how: str, at: datetime) -> Staff:
    how = how.strip()
    if not how:
        raise Invalid(_("Say how the identity was checked: which paper was seen, or who has known them for how long."))
    staff.identity_checked_at, staff.identity_checked_by = at, by
    staff.identity_check, staff.let_in_by = how[:400], []
    staff.save(update_fields=["identity_checked_at", "identity_checked_by", "identity_check", "let_in_by"])
    trail.record(by, "identity.checked", "staff", staff.reference, at=at, detail={"how": how[:400]})
    return staff


def who_can_check(staff: Staff, *, at: datetime) -> str:
    """The names of those who may check this identity; empty where there is nobody."""
    return _able(_checkers(at), staff)


def _checkers(at: datetime) -> list[Staff]:
    """Everybody whose role lets them check, and whose own identity somebody has checked, by name."""
    return list(who_may(Action.CHECK_IDENTITY, at=at).filter(identity_checked_at__isnull=False))


def _to_check(actor: Staff, row: Staff, checkers: Sequence[Staff]) -> ToCheck:
    why_not = _why_not(actor, row)
    able = _able(checkers, row)
    if why_not and able:
        why_not = _("{why_not} {names} can.").format(why_not=why_not, names=able)
    return ToCheck(row.pk, row.name, row.reference, row.site.name, why_not)


def _able(checkers: Sequence[Staff], staff: Staff) -> str:
    return dates.listed([one.name for one in checkers if not _why_not(one, staff)])


def _why_not(actor: Staff, staff: Staff) -> str:
    """Why this actor may not check this identity, in one sentence; nothing where they may."""
    if staff.pk == actor.pk:
        return _("Your own identity somebody else checks.")
    if actor.pk in staff.let_in_by:
        return _("You gave {staff} a password or took a factor away: somebody else checks who they are.").format(
            staff=staff.name
        )
    if actor.identity_checked_at is None:
        return _("Nobody has checked your own identity yet, so you check nobody's.")
    return ""
