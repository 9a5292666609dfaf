"""Inner steps that make an episode. They open no transaction; the caller has permitted and locked."""

from __future__ import annotations

from datetime import datetime

from django.db import connection

from caseload.episode.models import Episode
from caseload.person.models import Person
from caseload.referral.models import Referral
from checklists.adoption import steps as adoption
from checklists.record import protocols
from checklists.record.models import Head
from clinic.staff.models import Site

_ONE_AT_A_TIME = 7_261_001  # an advisory lock of our own: two openings at once must not take the same number


def make_episode(*, person: Person, site: Site, referral: Referral | None, at: datetime) -> Episode:
    """An episode with an empty record, judged by the protocol that is current now; refused until that is adopted."""
    version = protocols.current(at)
    adoption.require(version.pk)
    episode = Episode.objects.create(
        reference=_next_reference(at.year),
        person=person,
        site=site,
        referral=referral,
        created_at=at,
        knee_said=False if referral is not None and referral.features is None else None,
    )
    Head.objects.create(episode=episode, protocol=version, snapshot=b"", updated_at=at)
    return episode


def _next_reference(year: int) -> str:
    """'E26-0041': the year and a running number."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_advisory_xact_lock(%s)", [_ONE_AT_A_TIME])
    prefix = f"E{year % 100:02}-"
    taken = Episode.objects.filter(reference__regex=rf"^{prefix}\d+$").values_list("reference", flat=True)
    last = max((int(one.removeprefix(prefix)) for one in taken), default=0)
    return f"{prefix}{last + 1:04}"
