"""The page on which an older fact is struck out."""

from __future__ import annotations

from datetime import datetime
from functools import partial
from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.utils.translation import gettext as _

from checklists.keeping.about import About, about, note_opened, right_one
from checklists.keeping.forms import WhyForm
from checklists.keeping.striking import strike_out
from clinic import access, clock
from clinic.access import Action
from clinic.staff.models import Staff
from clinic.web.acts import Act, answer
from clinic.web.forms import signed_in


def strike(request: HttpRequest, episode_id: UUID) -> HttpResponse:
    """Strike out a fact that was recorded wrongly, with the reason."""
    actor, at = signed_in(request), clock.now()
    found = about(actor, Action.RECORD_KNEE, episode_id, request.GET.get("entry", ""), at=at)
    right = right_one(actor, found, at=at)
    lead = _("It stays in the record, struck through, with the reason and your name.")
    if request.method == "GET":
        note_opened(actor=actor, episode_id=episode_id, page="strike out", action=Action.RECORD_KNEE)
    act = Act(
        title=_("Strike this out"),
        submit=_("Strike out"),
        back=right or reverse("person", args=[episode_id]),
        over=found.whose,
        caution=_("What rested on it is worked out anew: statuses, alerts and sign-offs may change."),
        template="keeping/ask.html",
        extra={
            "entry": found.entry,
            "objects": _objects(actor, episode_id, at),
            "enters": _enters(actor, found, at),
        },
        lead=" ".join(filter(None, (lead, _("Then record the right one, as of the same time.") if right else ""))),
        done=_("Struck out. Now record the right one, as of the same time.") if right else _("Struck out."),
    )
    do = partial(strike_out, actor=actor, episode_id=episode_id, entry=found.entry.id if found.entry else None)
    return answer(request, act, WhyForm(request.POST or None), do)


def _objects(actor: Staff, episode_id: UUID, at: datetime) -> str:
    """Where it is written down that it is the person who says so, where that is the actor's to write."""
    may = access.reach(actor, Action.ASK_CORRECTION, at) is not None
    return reverse("ask_correction", args=[episode_id]) if may else ""


def _enters(actor: Staff, found: About, at: datetime) -> str:
    """Where the right one is entered with its own day and time, where that is the actor's to do; a setting has a page
    of its own."""
    setting = found.entry is not None and bool(found.entry.setting)
    sheet = not setting and not found.closed and access.reach(actor, Action.RECORD, at) is not None
    return reverse("paper_enter", args=[found.episode_id]) if sheet else ""
