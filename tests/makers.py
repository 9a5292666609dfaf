"""Makers: each makes one thing of the invented clinic "Alder Reach", with defaults that a reader need not think about.

Success and refusal share a maker, so that a refusal cannot pass for the wrong reason. Whatever is a fact of the record
is made through the one write path.
"""

from __future__ import annotations

import itertools
import uuid
from collections.abc import Iterable
from datetime import UTC, date, datetime, timedelta
from functools import cache
from typing import Any

from django.contrib.auth.hashers import make_password
from django.db import transaction
from django.test import Client
from knox.models import AuthToken

from caseload.models import Assignment, Cover, Episode, Person, Referral
from checklists.adoption import steps as adoption_steps
from checklists.episode import steps as episode_steps
from checklists.models import Adoption
from checklists.record import protocols
from checklists.record import steps as record_steps
from checklists.record.reception import Reception
from checklists.record.services import Recorded, record_entries
from clinic import clock
from clinic.access import Assurance
from clinic.audit.models import Origin
from clinic.staff import sessions
from clinic.staff.factors import totp, vault
from clinic.staff.factors.models import Factor, Kind
from clinic.staff.factors.shown import Proof
from clinic.staff.models import Authorisation, Registration, RoleTerm, Site, Staff
from clinic.staff.roles import KneeFeature, Role
from clinic.staff.session_models import Tablet
from clinic.staff.tablet import pins
from clinic.staff.tablet.services import Enrolled, enrol_here

SECRET = b"12345678901234567890"  # of RFC 6238, appendix B: what everybody's app in these tests has
PASSWORD = "a quiet bar beside the window"
JOINED = datetime(2020, 1, 1, tzinfo=UTC)
ALL_FEATURES = tuple(KneeFeature.values)
_number = itertools.count(1)


@cache
def _hashed(password: str) -> str:
    return make_password(password)


def now() -> datetime:
    """The present instant, to the second, as facts are stamped."""
    return clock.now().replace(microsecond=0)


def ago(**span: float) -> datetime:
    """An instant before now: `ago(hours=2)`."""
    return now() - timedelta(**span)


def stamp(at: datetime) -> str:
    """An instant as the record writes it."""
    return at.isoformat().replace("+00:00", "Z")


def a_site(name: str = "Alder Reach") -> Site:
    """A site: the main gym, or another by name."""
    return Site.objects.get_or_create(name=name)[0]


def a_staff(
    *roles: str,
    site: Site | None = None,
    name: str = "",
    registered: bool = True,
    authorised: Iterable[str] = ALL_FEATURES,
    username: str = "",
    factor: bool = True,
    **fields: Any,
) -> Staff:
    """Somebody with these roles (a therapist where none is named), who signs in with PASSWORD and `a_code`."""
    number = next(_number)
    unique = f"{number:05d}{uuid.uuid4().hex[:5]}"
    staff = Staff.objects.create(
        reference=f"S-{unique}",
        username=username or f"staff{unique}",
        name=name or f"Staff Member {number}",
        email=fields.pop("email", f"staff{unique}@alder-reach.example"),
        site=site or a_site(),
        password=_hashed(PASSWORD),
        joined_at=JOINED,
        identity_checked_at=fields.pop("identity_checked_at", JOINED),
        identity_check="known to the clinic for years",
        **fields,
    )
    if factor:
        a_factor(staff)
    held = roles or (Role.THERAPIST,)
    RoleTerm.objects.bulk_create(RoleTerm(staff=staff, role=role, period=(JOINED.date(), None)) for role in held)
    if registered:
        Registration.objects.create(staff=staff, number=f"R{unique}", starts_on=JOINED.date(), expires_on=_next_year())
    for feature in authorised:
        an_authorisation(staff, feature)
    return staff


def a_factor(staff: Staff, *, name: str = "telephone") -> Factor:
    """An app that makes one-time codes, with a secret that `a_code` knows."""
    row = Factor(staff=staff, kind=Kind.TOTP, name=name, added_at=JOINED)
    row.secret = vault.seal(SECRET, row.about)
    row.save(force_insert=True)
    return row


def a_code(staff: Staff) -> str:
    """The code that their app shows now, as if none had been used for a while: tests do not wait half a minute."""
    Factor.objects.filter(staff=staff).update(last_step=None)
    return totp.code_of(SECRET, totp.step_of(clock.now()))


def a_proof(staff: Staff, **given: Any) -> Proof:
    """All components of a signature of theirs: password and code."""
    return Proof(**{"password": PASSWORD, "code": a_code(staff), **given})


def in_through_the_door(browser: Client, staff: Staff, **more: Any) -> Any:
    """Sign a browser in, in as many steps as it takes; returns the last answer."""
    answer = browser.post("/sign-in/", {"username": staff.username, "password": PASSWORD, **more})
    if answer.status_code == 302 and answer["Location"] == "/sign-in/second/":
        answer = browser.post("/sign-in/second/", {"one_time_code": a_code(staff)})
        Factor.objects.filter(staff=staff).update(last_step=None)  # as if that were a while ago
    return answer


def _next_year() -> date:
    return now().date() + timedelta(days=365)


def an_authorisation(staff: Staff, feature: str, *, expires_on: date | None = None) -> Authorisation:
    """A lead's leave to work with a knee feature."""
    return Authorisation.objects.create(
        staff=staff,
        feature=feature,
        granted_by=staff,
        starts_on=JOINED.date(),
        expires_on=expires_on or _next_year(),
    )


PIN = "739164"


def a_pin(staff: Staff) -> Staff:
    """The same member of staff, who has PIN now."""
    pins.set_pin(actor=staff, pin=PIN, again=PIN)
    return staff


def a_tablet(name: str = "By the bars", *, site: Site | None = None) -> Tablet:
    """An enrolled tablet of the gym."""
    return an_enrolled_tablet(name, site=site).tablet


def an_enrolled_tablet(name: str = "By the bars", *, site: Site | None = None) -> Enrolled:
    """An enrolled tablet, with what the device keeps."""
    site = site or a_site()
    return enrol_here(actor=a_lead(site=site), name=name, site_id=site.pk, agent="tablet, tests")


def a_token(staff: Staff, shown: Assurance = Assurance.TWO_FACTORS) -> str:
    """A token with which a programme of theirs comes to the API."""
    made, token = AuthToken.objects.create(user=staff)
    sessions.begin(staff, shown, at=now(), agent="programme, tests", token=made)
    return str(token)


def a_lead(**fields: Any) -> Staff:
    """A clinic lead."""
    return a_staff(Role.CLINIC_LEAD, **fields)


def a_therapist(**fields: Any) -> Staff:
    """A therapist."""
    return a_staff(Role.THERAPIST, **fields)


def a_prosthetist(**fields: Any) -> Staff:
    """A prosthetist."""
    return a_staff(Role.PROSTHETIST, **fields)


def an_assistant(**fields: Any) -> Staff:
    """An assistant."""
    return a_staff(Role.ASSISTANT, **fields)


def a_records_officer(**fields: Any) -> Staff:
    """A records officer."""
    return a_staff(Role.RECORDS_OFFICER, **fields)


def a_person(*, site: Site | None = None, **fields: Any) -> Person:
    """Somebody who is, or will be, taught here."""
    number = f"AR-{uuid.uuid4().hex[:8]}"
    given = {"given_name": "Robin", "family_name": "Ashdown", "born_on": date(1961, 4, 2), **fields}
    return Person.objects.create(
        number=number, second_identifier=f"X{number}", site=site or a_site(), created_at=JOINED, **given
    )


def adopted() -> Adoption:
    """The thresholds of the current protocol, adopted long ago by a lead who has left: without, nothing is recorded."""
    version = protocols.current(now())
    standing = Adoption.objects.filter(protocol=version).first()
    if standing is not None:
        return standing
    lead = a_staff(Role.CLINIC_LEAD, name="Ansgar Tellwright", registered=False, authorised=(), is_active=False)
    return adoption_steps.write(lead, version, clinic="Alder Reach", at=JOINED)


def a_referral(person: Person | None = None, *, side: str = "left", first: bool = False, **fields: Any) -> Referral:
    """A referral that waits; `first`: at a clinic where nobody has adopted the thresholds yet."""
    person = person or a_person()
    if not first:
        adopted()
    given = {"urgency": "routine", "level": "bilateral" if side == "both" else "transfemoral", **fields}
    return Referral.objects.create(
        person=person,
        site=person.site,
        received_on=given.pop("received_on", ago(days=60).date()),
        reason=given.pop("reason", "To walk to the shop again."),
        side=side,
        features=given.pop("features", list(ALL_FEATURES)),
        taken_by=given.pop("taken_by", None) or a_lead(site=person.site),
        taken_at=ago(days=60),
        **given,
    )


def an_episode(
    *,
    assigned_to: Staff | None = None,
    side: str = "left",
    features: Iterable[str] = ALL_FEATURES,
    opened: datetime | None = None,
    person: Person | None = None,
    site: Site | None = None,
) -> Episode:
    """An open episode, carried by a therapist since it began (60 days ago where nothing is said)."""
    opened = opened or ago(days=60)
    therapist = assigned_to or a_therapist(site=site)
    adopted()
    person = person or a_person(site=site or therapist.site)
    episode = episode_steps.make_episode(person=person, site=person.site, referral=None, at=opened)
    Assignment.objects.create(episode=episode, staff=therapist, period=(opened, None), made_by=therapist)
    opening = an_entry("episode_opened", by=therapist, at=opened, side=side, features=sorted(features))
    opening["protocol"] = protocols.current_name()
    taken = imported(therapist, episode, opening)
    assert [verdict.outcome for verdict in taken.verdicts] == ["accepted"], taken.verdicts
    episode.refresh_from_db()
    return episode


def a_cover(episode: Episode, staff: Staff, *, start: datetime, end: datetime | None) -> Cover:
    """A colleague stands in."""
    return Cover.objects.create(episode=episode, staff=staff, period=(start, end), made_by=staff)


# --- facts ------------------------------------------------------------------------------------------------------------
def an_entry(kind: str, *, by: Staff | None = None, at: datetime | None = None, **fields: Any) -> dict[str, Any]:
    """A fact as it travels: `by`, `role` and `episode` are the server's to fill in where they are left out."""
    entry: dict[str, Any] = {"id": str(uuid.uuid4()), "kind": kind, "at": stamp(at or now()), **fields}
    if by is not None:
        entry["by"] = by.reference
    return entry


def an_attempt(skill: str = "sit_stand", support: str = "bars_both", **fields: Any) -> dict[str, Any]:
    """An attempt: safe, in the bars with somebody within reach."""
    return an_entry("attempt", skill=skill, support=support, **{"help": "stand_by", "result": "safe", **fields})


def a_check(name: str = "start_of_session", *, bad: Iterable[str] = (), **fields: Any) -> dict[str, Any]:
    """A check with every step done and found good, but those named bad."""
    steps = {
        "start_of_session": ("skin", "fit", "footwear", "mode"),
        "lock_in": ("straight", "caught", "loaded"),
        "lock_out": ("released", "bends"),
        "free_swing_on": ("seated", "on"),
        "free_swing_off": ("off", "loaded"),
        "end_of_session": ("mode", "skin"),
    }[name]
    return an_entry("check", name=name, steps={step: step not in bad for step in steps}, **fields)


def a_fall(**fields: Any) -> dict[str, Any]:
    """A fall without injury."""
    return an_entry("fall", **{"injury": "none", **fields})


def recorded(actor: Staff, episode: Episode, *entries: dict[str, Any]) -> Recorded:
    """Record facts as this person, by the same door as page and API."""
    return record_entries(actor=actor, episode_id=episode.pk, entries=entries)


def imported(actor: Staff, episode: Episode, *entries: dict[str, Any]) -> Recorded:
    """Take facts as history: `by` as they say, however old."""
    with transaction.atomic():
        return record_steps.receive(Reception(actor, now(), Origin.IMPORT, imported=True), episode.pk, entries)
