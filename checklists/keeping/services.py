"""How long records are kept, and what holds them. Nothing here takes a row away."""

from __future__ import annotations

from uuid import UUID

from django.db import transaction
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from caseload.models import Person
from caseload.writes import because, fit
from checklists.keeping.models import LegalHold, Retention
from checklists.keeping.steps import person_to
from clinic import access, clock
from clinic.access import Action
from clinic.audit import trail
from clinic.errors import Conflict, Invalid
from clinic.staff.models import Site, Staff

NO_REASON = gettext_lazy("Say by which law or policy: it stands beside the setting.")


@transaction.atomic(durable=True)
def set_retention(*, actor: Staff, site_id: UUID, years: int | None, reason: str) -> Retention:
    """Say how many years after an episode's end a site keeps the record; nothing: for ever. The setting before stays.

    It takes nothing away by itself: it says from when a record stands on the records officer's list.
    """
    at = clock.now()
    access.permit(actor, Action.SET_RETENTION, at)
    site = Site.objects.filter(pk=site_id).first()
    if site is None:
        raise Invalid(_("There is no such site."), reasons=["site: unknown"])
    if years is not None and not 1 <= years <= 150:
        raise Invalid(_("Say 1 to 150 years, or nothing for ever."), reasons=["years: out of bounds"])
    row = Retention(site=site, years=years, reason=because(reason, str(NO_REASON)), set_by=actor, set_at=at)
    fit(row)
    row.save(force_insert=True)
    detail = {"site": site.name, "years": years}
    trail.record(actor, "retention.set", "site", site.pk, at=at, detail=detail)
    return row


@transaction.atomic(durable=True)
def place_hold(*, actor: Staff, person_id: UUID, reason: str) -> LegalHold:
    """Hold a person's record, whatever the retention says. Several holds stand beside each other."""
    at = clock.now()
    person = person_to(actor, Action.HOLD_RECORD, person_id, at=at)
    said = because(reason, _("Say why the record must not go: who demands it, or which matter."))
    row = LegalHold(person=person, reason=said, placed_by=actor, placed_at=at)
    fit(row)
    row.save(force_insert=True)
    trail.record(actor, "hold.placed", "person", person.pk, at=at, detail={"hold": str(row.pk)})
    return row


@transaction.atomic(durable=True)
def lift_hold(*, actor: Staff, hold_id: UUID, reason: str) -> LegalHold:
    """End a hold, with the reason. Lifted already: Conflict."""
    at = clock.now()
    rows = LegalHold.objects.select_for_update(of=("self",)).select_related("person")
    row = access.get(actor, Action.HOLD_RECORD, rows, at=at, pk=hold_id)
    if row.lifted_at is not None:
        raise Conflict(_("This hold was lifted already."))
    row.lift_reason = because(reason, _("Say why it may go: by whose word, or how the matter ended."))
    row.lifted_by, row.lifted_at = actor, at
    fit(row)
    row.save(update_fields=["lifted_by", "lifted_at", "lift_reason"])
    trail.record(actor, "hold.lifted", "person", row.person_id, at=at, detail={"hold": str(row.pk)})
    return row


@transaction.atomic(durable=True)
def note_kept_opened(*, actor: Staff, person_id: UUID) -> None:
    """Leave a trail row: how this person's record is kept was looked at."""
    at = clock.now()
    person = access.get(actor, Action.SEE_KEEPING, Person.objects.all(), at=at, pk=person_id)
    trail.record(actor, "person.opened", "person", person.pk, at=at, detail={"page": "keeping"})
