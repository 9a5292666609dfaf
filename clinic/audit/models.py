"""The audit trail: who did or saw what, when and from where. Append-only by the database's own means."""

import uuid
from typing import ClassVar

from django.db import models
from django.db.models.functions import Cast
from django.utils.translation import gettext_lazy

from clinic.access.fenced import Anybody, Whole, fenced, through
from clinic.access.policy import Action
from clinic.audit.words import words_of
from clinic.ledger.columns import stamp_checks


class TrailRow(models.Model):
    """One thing that somebody did or saw. The programme's role can insert and read it, and nothing else.

    `detail` holds what a reader needs to understand the row, and never clinical content: that stands in the record. It
    is written as canonical text, which is what the leaf is made of; the database works `detail` out of it.
    """

    number = models.BigAutoField(primary_key=True)
    at = models.DateTimeField()
    actor = models.ForeignKey("clinic.Staff", on_delete=models.PROTECT, null=True, related_name="+", db_index=False)
    verb = models.CharField(max_length=60, help_text="noun.past_tense")
    subject = models.CharField(max_length=60, help_text="what kind of thing")
    subject_id = models.CharField(max_length=80)
    episode = models.UUIDField(null=True, help_text="the episode that it concerns, where there is one")
    origin = models.CharField(max_length=80, help_text="the door and address that it came through")
    detail_text = models.TextField(help_text="canonical JSON (RFC 8785)")
    detail = models.GeneratedField(
        expression=Cast("detail_text", models.JSONField()), output_field=models.JSONField(), db_persist=True
    )
    leaf = models.BinaryField(max_length=32)
    mac = models.BinaryField(max_length=32)

    FENCE: ClassVar = fenced(through(Whole(), Action.SEE_TRAIL), inserts=[through(Anybody())])

    class Meta:
        constraints: ClassVar = [*stamp_checks("trail")]
        indexes: ClassVar = [
            models.Index(fields=["-number"], name="trail_newest"),
            models.Index(fields=["episode", "-number"], name="trail_of_episode"),
            models.Index(fields=["actor", "-number"], name="trail_of_actor"),
            models.Index(fields=["subject_id", "-number"], name="trail_of_subject"),
        ]

    @property
    def did(self) -> str:
        """The verb in the reader's words."""
        return words_of(self.verb)

    @property
    def came(self) -> str:
        """The door in the reader's words, and the address."""
        door, space, address = self.origin.partition(" ")
        return f"{Origin(door).label if door in Origin.values else door}{space}{address}"


class Origin(models.TextChoices):
    """The doors."""

    PAGE = "page", gettext_lazy("page")
    API = "api", gettext_lazy("API")
    IMPORT = "import", gettext_lazy("import")
    WORKER = "worker", gettext_lazy("worker")
    COMMAND = "command", gettext_lazy("command")


def new_id() -> uuid.UUID:
    """An id for a row made by the server."""
    return uuid.uuid4()
