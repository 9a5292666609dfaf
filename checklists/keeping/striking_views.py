"""The page on which an older fact is struck out."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from functools import partial
from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.utils.html import format_html
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from checklists.alerts.ways import way_to
from checklists.keeping.about import About, about, entered_again, note_opened, right_one
from checklists.keeping.forms import WhyForm
from checklists.keeping.striking import strike_out
from checklists.record.verdict import Recorded
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
    if request.method == "GET":
        note_opened(actor=actor, episode_id=episode_id, page="strike out", action=Action.RECORD_KNEE)
    enters = _enters(actor, found, at)
    do = partial(strike_out, actor=actor, episode_id=episode_id, entry=found.entry.id if found.entry else None)
    theirs = access.reach(actor, Action.ACKNOWLEDGE_ALERT, at) is not None
    done = partial(_done, right=right, enters=enters, theirs=theirs)
    act = _act(found, right=right, enters=enters, objects=_objects(actor, episode_id, at))
    return answer(request, act, WhyForm(request.POST or None), do, then=lambda came, act: replace(act, done=done(came)))


def _act(found: About, *, right: str, enters: str, objects: str) -> Act:
    lead = _("It stays in the record, struck through, with the reason and your name.")
    then = _("Then record the right one, as of the same time.") if right else _("Then enter the right one.")
    return Act(
        title=_("Strike this out"),
        submit=_("Strike out"),
        back=right or reverse("person", args=[found.episode_id]),
        over=found.whose,
        caution=_("What rested on it is worked out anew: statuses, alerts and sign-offs may change."),
        template="keeping/ask.html",
        extra={"entry": found.entry, "objects": objects},
        lead=f"{lead} {then}" if right or enters else lead,
    )


def _done(came: Recorded, *, right: str, enters: str, theirs: bool) -> str:
    """What came of it, and where the right one is entered. `theirs`: whether they answer alerts."""
    acts = len({one.entry for one in came.raised})
    raised = ngettext("{n} alert came of it.", "{n} alerts came of it.", acts).format(n=acts) if acts else ""
    raised = raised if theirs or not acts else _("The therapist is told.")
    words = _("Struck out. Now record the right one, as of the same time.") if right else _("Struck out.")
    said = format_html("{} <a href='{}'>{}</a>", words, way_to(came.raised), raised) if raised else words
    return format_html("{} <a href='{}'>{}</a>", said, enters, _("Enter the right one")) if enters else said


def _objects(actor: Staff, episode_id: UUID, at: datetime) -> str:
    """Where it is written down that it is the person who says so, where that is the actor's to write."""
    may = access.reach(actor, Action.ASK_CORRECTION, at) is not None
    return reverse("ask_correction", args=[episode_id]) if may else ""


def _enters(actor: Staff, found: About, at: datetime) -> str:
    """Where the right one is entered, where there is one to enter."""
    entry = found.entry
    if entry is None:
        return ""
    setting, closed = bool(entry.setting), found.closed
    return entered_again(actor, found.episode_id, entry.id, setting=setting, closed=closed, at=at)
