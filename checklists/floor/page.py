"""The Floor's page: whose it is, and what its script begins with."""

from __future__ import annotations

from datetime import datetime
from typing import Any
from uuid import UUID

from django.urls import reverse

from caseload.assignment.selectors import Hands, hands
from caseload.models import Episode, Person
from caseload.words import day_words, listed, may_have
from checklists.floor import words
from checklists.floor.config import protocol_part
from checklists.floor.state import floor_state, of_floor
from checklists.person.helping import helping, whose
from checklists.pictures.words import MODE, PROOF, RESULT, STATUS
from checklists.record import protocols
from checklists.record.reception import strikes
from clinic import access
from clinic.access import Action
from clinic.staff.models import Staff
from clinic.staff.selectors import who_reaches


def floor_page(actor: Staff, episode_id: UUID, *, at: datetime) -> dict[str, Any]:
    """What the template and the script need. NotFound where the person is not the actor's to see."""
    episode = of_floor(actor, episode_id, at=at)
    theirs = hands(actor, episode.pk, at=at)
    helps = _helps(actor, theirs, at)
    return {
        "episode": episode,
        "person": episode.person,
        "side": words.SIDES[episode.side],
        "signs_off": helps["therapist"] if helps else "",
        "config": {**_config(actor, episode, theirs, at), "helps": helps},
        "taken_over": reverse("floor_taken_over", args=[episode.pk]),
        "marks": (*STATUS, *RESULT, "good", "yours", "check", "stop"),
        "modes": MODE,
        "proofs": PROOF,
    }


def _config(actor: Staff, episode: Episode, theirs: Hands, at: datetime) -> dict[str, Any]:
    person = episode.person
    protocol = protocols.loaded(episode.head.protocol_id)
    return {
        "episode": str(episode.pk),
        "person": {
            "name": person.full_name,
            "number": person.number,
            "second_identifier": person.second_identifier,
            "born": day_words(person.born_on),
        },
        "side": episode.side,
        "features": may_have(episode.knee),
        "zone": episode.site.time_zone,
        "staff": {"reference": actor.reference, "name": actor.name},
        "records_attempts": access.reach(actor, Action.RECORD, at) is not None,
        "addresses": _addresses(episode.pk),
        "words": words.words_for(episode.side),
        "weight": _weight(person),
        "reasons": words.chosen_words(words.REASONS),
        "judgements": words.JUDGEMENTS,
        "strike_reasons": words.chosen_words(words.STRIKE_REASONS),
        "strike_for": words.STRIKE_FOR,
        "strikes": strikes(lambda action: access.reach(actor, action, at) is not None),
        "wrong_result": words.WRONG_RESULT,
        "others": _others(actor, episode, theirs, at),
        "protocol": f"{protocol.key} {protocol.version}",
        "fall_review_days": protocol.fall_review_days,
        "state": floor_state(episode, at=at, role=actor.stamped_role(at.date())),
        **protocol_part(protocol.document, episode.side),
    }


def _others(actor: Staff, episode: Episode, theirs: Hands, at: datetime) -> str:
    """Who else may go on with them, by name: whoever carries them or stands in, or whose role reaches so far."""
    names = [turn.staff for turn in (theirs.standing_in, theirs.carrier) if turn]
    names += who_reaches(Action.RECORD, episode.site_id, at=at).values_list("name", flat=True)
    return listed([name for name in dict.fromkeys(names) if name != actor.name])


def _helps(actor: Staff, theirs: Hands, at: datetime) -> dict[str, str] | None:
    """For somebody who records and signs nothing off: whose that is, and what an assistant is told of it. None for
    everybody else."""
    if access.reach(actor, Action.RECORD, at) is None or access.reach(actor, Action.SIGN_OFF, at) is not None:
        return None
    name = whose(theirs)
    return {"therapist": name, "said": helping(actor, name, at=at)}


def _weight(person: Person) -> dict[str, Any] | None:
    """The body weight weighed last, for what two scales share; None where nobody weighed."""
    last = person.weights.order_by("-measured_on").first()
    return {"kg": float(last.kg), "day": day_words(last.measured_on)} if last else None


def _addresses(episode_id: UUID) -> dict[str, str]:
    named = {"state": "floor_state", "others": "floor_others", "move": "floor_move"}
    named |= {"entries": "api-entries", "advice": "api-advice", "pack": "api-pack"}
    found = {key: reverse(name, args=[episode_id]) for key, name in named.items()}
    return found | {"today": reverse("today"), "signIn": reverse("sign_in")}
