"""What stands on top of Today: what was skipped, what waits for a signature, which papers run out. One line each."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from caseload.words import day_words, listed
from checklists.alerts.models import Alert
from checklists.alerts.selectors import critical_waiting
from checklists.alerts.short import short_of
from checklists.alerts.ways import card_of
from checklists.record import protocols
from checklists.record.selectors import held_entries
from checklists.sealed.selectors import count_waiting, waiting_by_author
from checklists.today.rows import Call
from clinic import access
from clinic.access import Action
from clinic.staff.models import Authorisation, Registration, Staff
from clinic.staff.roles import KneeFeature

SOON = timedelta(days=28)  # papers that run out within four weeks are told (the clinic's default)
NAMED = 3  # people named in one line; the rest are counted


@dataclass(frozen=True, slots=True)
class Plate:
    """A line: its kind (stop, yours, check), what it is, whom it is about, and where to go."""

    kind: str
    head: str
    text: str
    link: str = ""
    link_words: str = ""


def plates(actor: Staff, calls: Sequence[Call], *, at: datetime, day: date) -> list[Plate]:
    """The lines for one member of staff, gravest first; none where there is nothing to do."""
    lines = [_sealed(actor), _to_sign(actor, calls, at), _end(calls), *_papers(actor, day)]
    return [*urgent(actor, at=at), *(line for line in lines if line is not None)]


def urgent(actor: Staff, *, at: datetime) -> list[Plate]:
    """What waits for the actor whatever the day brings: critical alerts, late facts that are theirs to decide, and
    colleagues to be reminded of their marks."""
    lines = (_critical(actor, at), _held(actor, at), marks_of_others(actor, at=at))
    return [line for line in lines if line is not None]


def _critical(actor: Staff, at: datetime) -> Plate | None:
    """The critical acts that wait for an answer, the reader's or another's."""
    waiting = critical_waiting(actor, at=at).order_by("-happened_at")
    acts = {row.entry: row for row in reversed(waiting.select_related("episode__person", "episode__head"))}
    if not acts:
        return None
    head = ngettext("{n} critical alert", "{n} critical alerts", len(acts)).format(n=len(acts))
    lines = list(dict.fromkeys(_skipped(row) for row in reversed(acts.values())))
    way = card_of(next(reversed(acts)))  # of whoever is named first
    return Plate("stop", head, f"{'; '.join(_counted(lines))}.", way, _("See what to do now"))


def _skipped(alert: Alert) -> str:
    """Halvard Quillmoor: lock not verified."""
    protocol = protocols.loaded(alert.episode.head.protocol_id)
    return _("{what}: {answer}").format(what=alert.episode.person.full_name, answer=short_of(protocol, alert.rule))


def _held(actor: Staff, at: datetime) -> Plate | None:
    if access.reach(actor, Action.RELEASE_LATE, at) is None:
        return None
    names = list(held_entries(actor, at=at).values_list("episode__person__family_name", flat=True))
    if not names:
        return None
    head = ngettext("{n} late fact waits for your decision", "{n} late facts wait for your decision", len(names))
    return Plate("yours", head.format(n=len(names)), _named(dict.fromkeys(names)), reverse("aside"), _("Decide"))


def marks_of_others(actor: Staff, *, at: datetime) -> Plate | None:
    """Marks that were sealed on a tablet and wait for colleagues: for whoever keeps the tablets."""
    if access.reach(actor, Action.MANAGE_TABLETS, at) is None:
        return None
    authors = [one for one in waiting_by_author(actor, at=at) if one.staff_id != actor.pk]
    if not authors:
        return None
    many = sum(one.many for one in authors)
    head = ngettext("{n} mark waits for {names}", "{n} marks wait for {names}", many)
    head = head.format(n=many, names=_named(one.name for one in authors))
    text = _("Sealed on a tablet, and not in the record yet: remind them.")
    return Plate("yours", head, text, reverse("tablets"), _("Gym tablets"))


def _sealed(actor: Staff) -> Plate | None:
    """Marks that were sealed on a tablet under the actor's name, and brought by somebody else."""
    if not (count := count_waiting(actor)):
        return None
    head = ngettext("A mark waits for you", "{n} marks wait for you", count).format(n=count)
    text = _("You left a tablet before they were sent. Nobody else can record them.")
    return Plate("yours", head, text, reverse("waiting_marks"), _("Look at them"))


def _to_sign(actor: Staff, calls: Sequence[Call], at: datetime) -> Plate | None:
    if access.reach(actor, Action.SIGN_OFF, at) is None:
        return None
    waiting = [(call, due) for call in calls for due in call.due if due.mark == "ready"]
    if not waiting:
        return None
    (call, due), count = waiting[0], len(waiting)
    head = ngettext("A skill waits for a signature", "{n} skills wait for a signature", count).format(n=count)
    people = list(dict.fromkeys(each.person for each, _ in waiting))
    return Plate(
        "yours", head, _named(people), reverse("sign_off", args=[call.episode_id, due.skill]), _("Open the first")
    )


def _end(calls: Sequence[Call]) -> Plate | None:
    """Offered once nobody of the day is still to come and nobody is here."""
    if not calls or any(call.place != "over" for call in calls):
        return None
    text = _("See what is not signed, proven, sent or answered.")
    return Plate("good", _("Everybody of today is through"), text, reverse("day_end"), _("End of the day"))


def _papers(actor: Staff, day: date) -> list[Plate]:
    """A registration or an authorisation of the actor's own that ends soon and that no later one follows."""
    words = {key: str(word) for key, word in KneeFeature.choices}
    standing = Authorisation.objects.filter(staff=actor, withdrawn_at__isnull=True)
    papers = [(words[feature], ends) for feature, ends in standing.values_list("feature", "expires_on")]
    papers += [
        (_("registration"), ends)
        for ends in Registration.objects.filter(staff=actor).values_list("expires_on", flat=True)
    ]
    last: dict[str, date] = {}
    for what, ends in papers:
        last[what] = max(ends, last.get(what, ends))
    return [
        Plate(
            "check",
            (_("Your {paper} ends {day}") if ends >= day else _("Your {paper} ended {day}")).format(
                paper=what, day=day_words(ends)
            ),
            _("After that day a sign-off is refused. A clinic lead renews it."),
        )
        for what, ends in sorted(last.items(), key=lambda each: each[1])
        if ends <= day + SOON
    ]


def _named(people: Iterable[str]) -> str:
    return listed(_counted(list(people)))


def _counted(told: list[str]) -> list[str]:
    rest = len(told) - NAMED
    return [*told[:NAMED], _("{n} more").format(n=rest)] if rest > 0 else told
