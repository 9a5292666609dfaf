"""Inner steps of the staff services. None of them opens a transaction."""

from __future__ import annotations

import re
import secrets
from collections.abc import Iterable, Mapping
from datetime import date, datetime
from uuid import UUID

from django.core.exceptions import ValidationError
from django.db import connection
from django.db.models import ForeignKey, Model
from django.utils.translation import gettext as _

from clinic import access
from clinic.access import Action
from clinic.audit import trail
from clinic.errors import Conflict, Invalid, NotFound, Stale
from clinic.staff.models import RoleTerm, Site, Staff, name_key
from clinic.staff.roles import KneeFeature, Role

LONGEST_NAME = 120  # as it counts: letters that stand for several count as those
LETTERS = "abcdefghjkmnpqrstuvwxyz23456789"  # without those that look like another when read out or copied


def managed(actor: Staff, staff_id: UUID, *, at: datetime) -> Staff:
    """The member of staff whom the actor manages, locked for what comes."""
    return access.get(actor, Action.MANAGE_STAFF, Staff.objects.select_for_update(of=("self",)), at=at, pk=staff_id)


def fit(row: Model) -> None:
    """Hold every field of a row against its shape; Invalid with a reason for each that does not fit."""
    keys = [field.name for field in row._meta.fields if isinstance(field, ForeignKey)]
    try:
        row.clean_fields(exclude=keys)
    except ValidationError as fault:
        reasons = [f"{name.replace('_', ' ')}: {' '.join(texts)}" for name, texts in fault.message_dict.items()]
        raise Invalid(_("Something is missing or does not fit."), reasons=reasons) from fault


def usable_name(staff: Staff) -> None:
    """Refuse a sign-in name that nobody can read out or type, or that looks like another that was ever used."""
    key = name_key(staff.username)
    if not key or len(key) > LONGEST_NAME or not all(letter.isprintable() for letter in key):
        raise Invalid(_("A sign-in name has letters that everybody can see, and at most 60 of them."))
    if Staff.objects.filter(username_key=key).exists():
        raise Conflict(
            _("The sign-in name {username} is somebody's already, or was. Choose another.").format(
                username=staff.username
            )
        )


def unless_stale(staff: Staff, version: int) -> None:
    """Refuse a change that was made looking at an older state."""
    if staff.version != version:
        raise Stale(
            _("Somebody else changed {staff} meanwhile. Look at what stands now and change it again.").format(
                staff=staff.name
            )
        )


def site_of(site_id: UUID) -> Site:
    """A site by its id."""
    site = Site.objects.filter(pk=site_id).first()
    if site is None:
        raise NotFound(_("There is no such site."))
    return site


def roles_of(words: Iterable[str]) -> list[Role]:
    """The roles behind the words; Invalid for a word that is none."""
    try:
        return [Role(word) for word in dict.fromkeys(words)]
    except ValueError as fault:
        raise Invalid(_("{fault}. The roles are: {list}.").format(fault=fault, list=", ".join(Role.values))) from None


def feature_of(word: str) -> KneeFeature:
    """The knee feature behind a word."""
    try:
        return KneeFeature(word)
    except ValueError:
        raise Invalid(
            _("{word!r} is not a knee feature. They are: {list}.").format(word=word, list=", ".join(KneeFeature.values))
        ) from None


def in_order(first: date, last: date) -> None:
    """The last day is not before the first."""
    if last < first:
        raise Invalid(_("The last day lies before the first."))


def one_hand_at_the_list() -> None:
    """Until this transaction ends, nobody else hands out references or takes leads away."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_advisory_xact_lock(hashtextextended('staff list', 0))")


def next_reference() -> str:
    """The next reference that nobody ever had."""
    given = Staff.objects.values_list("reference", flat=True)
    numbers = [int(found[1]) for text in given if (found := _NUMBER.match(text))]
    return f"S-{max(numbers, default=0) + 1:04d}"


_NUMBER = re.compile(r"^S-(\d{1,9})$")


def another_lead_stays(leaving: Staff, day: date) -> None:
    """Refuse to take the last clinic lead away: nobody could let anybody in any more."""
    leads = RoleTerm.objects.filter(role=Role.CLINIC_LEAD, period__contains=day, staff__is_active=True)
    if leads.filter(staff=leaving).exists() and not leads.exclude(staff=leaving).exists():
        raise Conflict(
            _("{leaving} is the only clinic lead. Make somebody else a lead first.").format(leaving=leaving.name)
        )


def a_password() -> str:
    """A password to hand over once: four groups of five, some 98 bits."""
    return "-".join("".join(secrets.choice(LETTERS) for _letter in range(5)) for _group in range(4))


def accounted(actor: Staff, verb: str, staff: Staff, *, at: datetime, **detail: object) -> None:
    """The row of the trail for something done to a member of staff."""
    trail.record(actor, verb, "staff", staff.reference, at=at, detail=detail)


def changed(row: Model, wanted: Mapping[str, object]) -> list[str]:
    """Set what differs; the names of the fields that did."""
    names = [name for name, value in wanted.items() if getattr(row, name) != value]
    for name in names:
        setattr(row, name, wanted[name])
    return names
