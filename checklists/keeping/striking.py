"""Striking out an older fact from a page: it stays in the record, struck through, with the reason and who struck it."""

from __future__ import annotations

from uuid import UUID

from django.utils.translation import gettext as _

from caseload.writes import because
from checklists.record.models import Entry
from checklists.record.one import fact
from checklists.record.reception import STAYS
from checklists.record.services import record_entries
from checklists.record.verdict import Recorded
from checklists.words import said
from clinic import access, clock
from clinic.access import Action
from clinic.errors import Conflict, Invalid
from clinic.staff.models import Staff


def strike_out(*, actor: Staff, episode_id: UUID, entry: UUID | None, reason: str) -> Recorded:
    """Strike out one fact, by the one write path: whoever may record such a fact may, and a clinic lead any. What came
    of it.

    Refused: what has a way of its own (a signature is withdrawn, an episode opened again), and what is not here.
    """
    at = clock.now()
    access.permit(actor, Action.RECORD_KNEE, at)
    why = because(reason, _("Say why it is struck out."))
    here = Entry.objects.filter(episode=episode_id)
    kind = here.filter(id=entry).values_list("kind", flat=True).first() if entry else None
    if kind is None:
        raise Invalid(_("That entry is not in this person's record."), reasons=["entry: not here"])
    if kind in STAYS:
        raise Invalid(_("This is not struck out here: a signature is withdrawn, a request is answered."))
    strike = fact("struck_out", at, entry=str(entry), reason=why)
    recorded = record_entries(actor=actor, episode_id=episode_id, entries=[strike])
    if recorded.verdicts[0].outcome == "refused":
        raise Conflict(said(recorded.verdicts[0].error or ""))
    return recorded
