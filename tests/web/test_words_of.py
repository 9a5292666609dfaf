"""Names of the programme's own that somebody reads (actions, verbs of the trail, parts of an archive) have words, every
one; and an e-mail is in the language of who gets it."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from types import SimpleNamespace
from typing import Any

import pytest
from django.core import mail
from django.utils import translation

from checklists.alerts.models import Notice
from checklists.alerts.notices import message
from checklists.keeping.archive import tables
from checklists.keeping.archive.steps import STEPS
from checklists.leaving.reach import losses
from clinic import clock
from clinic.access import Action
from clinic.access import words as actions
from clinic.audit import words as verbs
from clinic.run.places import ROOT
from clinic.staff.factors.news import send_mail
from tests.makers import a_lead, a_person, a_therapist, an_episode

ROOMS = ("clinic", "caseload", "checklists", "api")
_VERB = re.compile(r"[a-z_]+\.[a-z_]+")
NOUNS = {verb.partition(".")[0] for verb in verbs.VERBS}
# What is written like a verb of the trail and is none: files, topics of the outbox, kinds of alarm.
NO_VERBS = {
    *(
        "entry.decided",
        "alert.raised",
        "alert.escalated",
        "review.due",
        "review.due_soon",
        "review.overdue",
        "review.escalated",
    ),
    *("review.reminded", "sign_in.changed", "checkpoint.note", "checkpoint.made", "checkpoint.stamped"),
    *("checkpoint.witnessed", "ledger.broken", "ledger.contradicted", "ledger.does_not_hold", "ledger.not_witnessed"),
    *("ledger.slipped_in", "ledger.unverified", "protocol.json", "archive.css"),
}


def _literals() -> Iterator[str]:
    """Every text of the code that has the shape of a verb and begins with the noun of one."""
    for room in ROOMS:
        for path in sorted((ROOT / room).rglob("*.py")):
            if "migrations" not in path.parts:
                for node in ast.walk(ast.parse(path.read_text())):
                    if isinstance(node, ast.Constant) and isinstance(node.value, str) and _VERB.fullmatch(node.value):
                        yield node.value


def test_every_action_has_words_and_words_in_spanish() -> None:
    assert set(actions._WORDS) == set(Action)
    with translation.override("es"):
        spanish = {actions.words_of(action) for action in Action}
    with translation.override("en-gb"):
        english = {actions.words_of(action) for action in Action}
    assert len(spanish) == len(english) == len(Action)
    assert not spanish & english


def test_every_verb_of_the_trail_has_words_and_words_in_spanish() -> None:
    written = {text for text in _literals() if text.partition(".")[0] in NOUNS}
    assert written - set(verbs.VERBS) - NO_VERBS == set()
    assert len(written) > 120
    with translation.override("es"):
        assert [verb for verb in verbs.VERBS if verbs.words_of(verb) == verbs.VERBS[verb]] == []
    assert verbs.words_of("one.made_up") == "one: made up"


@pytest.mark.django_db
def test_every_part_of_an_archive_has_words() -> None:
    named = {name.rpartition("/")[2].replace("_", " ") for name, _ in tables.sources(a_person())}
    assert named <= set(STEPS)
    with translation.override("es"):
        assert [step for step in STEPS if STEPS[step] == step] == []


@pytest.mark.django_db
def test_what_somebody_may_no_longer_do_is_said_in_the_readers_words_and_hashed_in_none() -> None:
    lead, staff = a_lead(), a_therapist()
    an_episode(assigned_to=staff)
    day = clock.local_day(clock.now(), staff.site.time_zone)

    def lost() -> Any:
        return losses(lead, staff.pk, on_day=day, site_id=staff.site_id, roles=[], at=clock.now())

    with translation.override("en-gb"):
        english = lost()
        words = english.may_no_longer
        assert "sign off" in words
    with translation.override("es"):
        spanish = lost()
        assert not set(spanish.may_no_longer) & set(words)
    assert spanish.actions == english.actions
    assert spanish.digest == english.digest


@pytest.mark.parametrize(("language", "subject"), [("es", "Crítico: EP-1"), ("en-gb", "Critical: EP-1")])
def test_the_mail_of_a_notice_is_in_the_language_of_who_gets_it(language: str, subject: str) -> None:
    staff, episode = SimpleNamespace(language=language, email="a@b.example"), SimpleNamespace(reference="EP-1")
    notice: Any = SimpleNamespace(staff=staff, episode=episode, topic="alert.raised", severity="critical", pk=7)
    with translation.override("en-gb" if language == "es" else "es"):
        said = message(notice)
    assert said.subject == subject
    assert ("Inicie sesión" in said.body) is (language == "es")
    assert Notice._meta.get_field("severity").choices


@pytest.mark.django_db
def test_the_mail_about_ones_sign_in_is_in_ones_language() -> None:
    staff = a_therapist(language="es", email="a@alder-reach.example")
    news = {"staff": str(staff.pk), "what": "a recovery code was used", "key": "k", "at": "2026-11-26T08:00:00Z"}
    send_mail(news, clock.now())
    (said,) = mail.outbox
    assert "se usó un código de recuperación" in str(said.body)
