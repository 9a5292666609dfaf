"""Keeping and giving out: the page, one person, retention, holds, and the archive."""

from __future__ import annotations

from functools import partial
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect, JsonResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from caseload.looked.selectors import who_tells
from checklists.keeping import forms, giving, selectors, services
from clinic import access, clock
from clinic.access import Action
from clinic.errors import Conflict, NotFound, Refusal
from clinic.web.acts import Act, answer
from clinic.web.entrance import poll
from clinic.web.forms import refused, signed_in
from clinic.web.limits import limited

LAW = gettext_lazy("How long a record must be kept, and when it must go, is for the law and for local policy to say.")


@limited("search")
@require_http_methods(["GET", "HEAD", "POST"])
def keeping(request: HttpRequest) -> HttpResponse:
    """How long records are kept, what is past it, what is held, and what waits. Whom somebody looks for is posted."""
    text = request.POST.get("named", "")[:80]
    actor, at = signed_in(request), clock.now()
    page = selectors.keeping_page(actor, text, at=at)
    shown = {"page": page, "text": text, "law": LAW, "told": who_tells(actor, at=at)}
    return render(request, "keeping/page.html", shown)


@require_GET
def person(request: HttpRequest, person_id: UUID) -> HttpResponse:
    """One person: how long, what holds it, what was taken out, asked for and erased."""
    actor = signed_in(request)
    page = selectors.person_kept(actor, person_id, at=clock.now())
    services.note_kept_opened(actor=actor, person_id=person_id)
    told, proof = who_tells(actor, at=clock.now()), who_tells(actor, at=clock.now(), what=Action.EXPORT_RECORD)
    shown = {"page": page, "law": LAW, "told": told, "proof": proof}
    return render(request, "keeping/person.html", shown)


def retention(request: HttpRequest, site_id: UUID) -> HttpResponse:
    """Set how long a site keeps its records."""
    actor, at = signed_in(request), clock.now()
    access.permit(actor, Action.SET_RETENTION, at)
    site = next((one for one in selectors.sites() if one.site_id == site_id), None)
    if site is None:
        raise NotFound(_("There is no such site."))
    act = Act(
        title=_("Retention: {name}").format(name=site.name),
        submit=_("Set it"),
        back=reverse("keeping"),
        caution=str(LAW),
        lead=_("Now: {words}. Nothing goes by itself: a record past its retention stands on a list.").format(
            words=site.words
        ),
        done=_("Set. The setting before stays in the record of settings."),
    )
    form = forms.RetentionForm(request.POST or None)
    return answer(request, act, form, partial(services.set_retention, actor=actor, site_id=site_id))


def place_hold(request: HttpRequest, person_id: UUID) -> HttpResponse:
    """Hold a person's record."""
    actor, at = signed_in(request), clock.now()
    act = _act(request, Action.HOLD_RECORD, person_id, title=_("Place a hold"), submit=_("Hold this record"))
    access.permit(actor, Action.HOLD_RECORD, at)
    form = forms.WhyForm(request.POST or None)
    return answer(request, act, form, partial(services.place_hold, actor=actor, person_id=person_id))


def lift_hold(request: HttpRequest, hold_id: UUID) -> HttpResponse:
    """End a hold."""
    actor = signed_in(request)
    hold = selectors.one_hold(actor, hold_id, at=clock.now())
    act = _act(request, Action.HOLD_RECORD, hold.person_id, title=_("Lift the hold"), submit=_("Lift it"))
    form = forms.WhyForm(request.POST or None)
    return answer(request, act, form, partial(services.lift_hold, actor=actor, hold_id=hold_id))


def _act(request: HttpRequest, action: Action, person_id: UUID, *, title: str, submit: str, lead: str = "") -> Act:
    """A form about one person, whose number stands over it."""
    found = selectors.person_for(signed_in(request), action, person_id, at=clock.now())
    back = reverse("keeping_person", args=[person_id])
    over = f"{found.full_name} · {found.number}"
    return Act(title=title, submit=submit, back=back, over=over, caution=str(LAW), lead=lead)


@limited("export")
def ask_archive(request: HttpRequest, person_id: UUID) -> HttpResponse:
    """Ask for a person's whole record as one file, and go where its making is seen."""
    actor, status = signed_in(request), 200
    act = _act(
        request,
        Action.EXPORT_RECORD,
        person_id,
        title=_("The whole record as one file"),
        submit=_("Put it together"),
        lead=_(
            "To read, to print, and for another server to take in: with everything that was struck "
            "out or not taken, every signature, every alert and answer, and who looked."
        ),
    )
    form = forms.ArchiveForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            row = giving.ask_archive(actor=actor, person_id=person_id, why=form.cleaned_data["why"])
            return HttpResponseRedirect(reverse("archive", args=[row.pk]))
        except Refusal as refusal:
            status = refused(form, refusal)
    return render(request, "act.html", {"act": act, "form": form}, status=status)


@require_GET
def archive(request: HttpRequest, archive_id: UUID) -> HttpResponse:
    """How far the file is; when it is there, it can be taken."""
    actor = signed_in(request)
    row = selectors.one_archive(actor, archive_id, at=clock.now())
    return render(request, "keeping/archive_state.html", {"row": row, "mine": row.asked_by_id == actor.pk})


@require_GET
@poll
def archive_now(request: HttpRequest, archive_id: UUID) -> JsonResponse:
    """How far it is, for the open page; that question keeps no session alive."""
    row = selectors.one_archive(signed_in(request), archive_id, at=clock.now())
    return JsonResponse({"words": row.words, "done": row.done, "total": row.total, "made": row.made_at is not None})


@limited("export")
@require_POST
def take_archive(request: HttpRequest, archive_id: UUID) -> HttpResponse:
    """The file. It is handed out once."""
    try:
        taken = giving.take_archive(actor=signed_in(request), archive_id=archive_id)
    except Conflict as refusal:
        messages.error(request, refusal.sentence)
        return redirect("archive", archive_id=archive_id)
    response = HttpResponse(taken.content, content_type="application/zip")
    response.headers["Content-Disposition"] = f'attachment; filename="{taken.name}"'
    response.headers["Cache-Control"] = "no-store"
    return response
