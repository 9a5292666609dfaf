"""A member of staff chooses the language of their pages."""

from __future__ import annotations

from django.db import transaction

from clinic import clock
from clinic.audit import trail
from clinic.errors import Invalid
from clinic.language import tags
from clinic.staff.models import Staff


@transaction.atomic(durable=True)
def choose_language(*, actor: Staff, language: str) -> None:
    """Keep the actor's language. The same again changes nothing."""
    at = clock.now()
    if language not in dict(tags.choices()):
        raise Invalid("There are no pages in this language. Choose one of the list.", code="no_such_language")
    if actor.language == language:
        return
    actor.language = language
    actor.save(update_fields=["language"])
    trail.record(actor, "language.chosen", "staff", actor.reference, at=at, detail={"language": language})
