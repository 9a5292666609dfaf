"""Erasure where the law demands it: a records officer asks, a clinic lead confirms, the database's function does it.

What goes and what stays is written in erase_sql.py and nowhere else.
"""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

from django.db import transaction
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from caseload.models import Episode, Person, Referral
from caseload.words import day_words
from caseload.writes import because, fit
from checklists.keeping import erased_list
from checklists.keeping.models import Erasure, ErasureDecision
from checklists.keeping.steps import erase, held, kept_of, person_to, unless_erased
from clinic import access, clock
from clinic.access import Action
from clinic.audit import trail
from clinic.clock import local_day
from clinic.errors import Conflict, Denied
from clinic.staff.models import Staff
from clinic.staff.reauthenticate import Proof, confirm

GROUND = gettext_lazy("Name the provision of law that demands it.")
REASON = gettext_lazy("Say why, without a word about the person: the reason stays for ever.")


class MustStay(Conflict):
    """The record may not be erased now."""

    code = "must_stay"


@transaction.atomic(durable=True)
def ask_erasure(
    *, actor: Staff, person_id: UUID, ground: str, reason: str, overrides_retention: bool = False
) -> Erasure:
    """Ask that a person's record be erased. It does nothing yet: a clinic lead, somebody else, confirms it.

    Refused under a legal hold, while the person is in care, and inside retention unless the ground overrides that.
    """
    at = clock.now()
    person = person_to(actor, Action.ASK_ERASURE, person_id, at=at)
    row = Erasure(
        person=person,
        ground=because(ground, str(GROUND)),
        reason=because(reason, str(REASON)),
        overrides_retention=overrides_retention,
        asked_by=actor,
        asked_at=at,
    )
    fit(row)
    refuse_while_it_must_stay(person, overrides_retention, at)
    if Erasure.objects.filter(person=person, decision__isnull=True).exists():
        raise Conflict(_("An erasure is asked for already, and waits for a clinic lead."))
    row.save(force_insert=True)
    detail = {"number": person.number, "ground": row.ground, "overrides_retention": overrides_retention}
    trail.record(actor, "erasure.asked", "erasure", row.pk, at=at, detail=detail)
    return row


def refuse_while_it_must_stay(person: Person, overrides: bool, at: datetime) -> None:
    """MustStay, with every reason."""
    said = [
        _("A legal hold is in force since {day}.").format(day=day_words(hold.placed_at.date()))
        for hold in held(person.pk)
    ]
    in_care = Episode.objects.filter(person=person, closed_at__isnull=True).exists()
    waits = Referral.objects.filter(person=person, accepted_at__isnull=True, ended_at__isnull=True).exists()
    if in_care or waits:
        said.append(_("The person is in care: a record that somebody trains by cannot go. End the episode first."))
    else:
        said += [] if overrides else _retention(person, at)
    if said:
        raise MustStay(_("This record may not be erased: ") + " ".join(said), reasons=said)


def _retention(person: Person, at: datetime) -> list[str]:
    kept = kept_of(Person.objects.filter(pk=person.pk)).get(person.pk)
    if kept is None or kept.past(local_day(at, person.site.time_zone)):
        return []
    if not kept.until:
        return [_("It is kept for ever, as no retention is set, unless the ground demands it earlier and you say so.")]
    kept_until = _("It is kept until {day}, unless the ground demands it earlier and you say so.")
    return [kept_until.format(day=day_words(kept.until))]


def confirm_erasure(*, actor: Staff, erasure_id: UUID, proof: Proof) -> dict[str, int]:
    """Confirm an erasure that somebody else asked for, showing again who one is; returns table → rows that went.

    From here on the content is gone from the database, for everybody and for good. It is in older backups until those
    are gone: a restore re-applies what the list of erasures says (erased_list.py).
    """
    confirm(actor, proof)  # before the transaction: a wrong one stays counted
    return _confirmed(actor, erasure_id)


@transaction.atomic(durable=True)
def _confirmed(actor: Staff, erasure_id: UUID) -> dict[str, int]:
    at = clock.now()
    row, person = _waiting(actor, erasure_id, at)
    refuse_while_it_must_stay(unless_erased(person), row.overrides_retention, at)
    ErasureDecision.objects.create(erasure=row, confirmed=True, decided_by=actor, decided_at=at)
    detail = {"number": person.number, "ground": row.ground}
    trail.record(actor, "erasure.confirmed", "erasure", row.pk, at=at, detail=detail)
    counts = erase(row.pk)
    trail.record(actor, "person.erased", "person", person.pk, at=at, detail={"erasure": str(row.pk), "rows": counts})
    transaction.on_commit(erased_list.keep, robust=True)
    return counts


@transaction.atomic(durable=True)
def turn_down_erasure(*, actor: Staff, erasure_id: UUID, reason: str) -> None:
    """Decide that nothing is erased, with the reason. It can be asked for anew."""
    at = clock.now()
    row, _person = _waiting(actor, erasure_id, at)
    decision = ErasureDecision(erasure=row, confirmed=False, decided_by=actor, decided_at=at)
    decision.reason = because(reason, _("Say why nothing is erased."))
    fit(decision)
    decision.save(force_insert=True)
    trail.record(actor, "erasure.turned_down", "erasure", row.pk, at=at)


def _waiting(actor: Staff, erasure_id: UUID, at: datetime) -> tuple[Erasure, Person]:
    """What waits for a decision by this actor, with the person locked: two who decide at once decide one by one."""
    access.permit(actor, Action.CONFIRM_ERASURE, at)
    row = access.get(actor, Action.CONFIRM_ERASURE, Erasure.objects.all(), at=at, pk=erasure_id)
    person = Person.objects.select_related("site").select_for_update(of=("self",)).get(pk=row.person_id)
    if row.asked_by_id == actor.pk:
        raise Denied(_("Somebody else confirms what you asked for: two people, so that nobody erases alone."))
    if ErasureDecision.objects.filter(erasure=row).exists():
        raise Conflict(_("This was decided already."))
    return row, person
