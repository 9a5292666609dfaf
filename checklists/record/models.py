"""The record of facts, what proves it, and what is derived from it.

`Entry` and `EntryContent` are append-only by the database's own means. `Head` and `Deadline` are derived: they can be
thrown away and made again from the record.
"""

from __future__ import annotations

import uuid
from datetime import datetime
from typing import ClassVar

from django.db import models
from django.db.models import Q

from caseload.episode.reach import OfEpisode
from clinic.access.fenced import READING, RECORDING, ByEpisode, Somebody, Theirs, Via, fenced, through
from clinic.access.policy import Action
from clinic.access.scope import Scope
from clinic.audit.models import Origin
from clinic.ledger.columns import stamp_checks
from clinic.staff.models import Staff, choice_check


class ProtocolVersion(models.Model):
    """A protocol document as it was first used. Other bytes under the same key and version stop the start."""

    id = models.BigAutoField(primary_key=True)
    key = models.CharField(max_length=40)
    version = models.PositiveIntegerField()
    digest = models.CharField(max_length=64, help_text="SHA-256 of the canonical document (RFC 8785), hexadecimal")
    document = models.TextField()
    stored_at = models.DateTimeField()

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["key", "version"], name="protocol_version_once"),
        ]

    def __str__(self) -> str:
        return f"{self.key}@{self.version}"


class Entry(OfEpisode, models.Model):
    """One fact as it was received: enough to order, find and prove it. What it says stands in `EntryContent`.

    `commitment` is SHA-256 over salt and canonical content: the content can go, where the law demands it, and the proof
    stays.
    """

    number = models.BigAutoField(primary_key=True, help_text="the order of reception")
    id = models.UUIDField(unique=True)
    episode = models.ForeignKey("caseload.Episode", on_delete=models.PROTECT, related_name="entries", db_index=False)
    kind = models.CharField(max_length=20)
    at = models.DateTimeField()
    by = models.ForeignKey("clinic.Staff", on_delete=models.PROTECT, related_name="+", db_index=False)
    received_at = models.DateTimeField()
    sender = models.ForeignKey("clinic.Staff", on_delete=models.PROTECT, related_name="+", db_index=False)
    door = models.CharField(max_length=10, choices=Origin)
    commitment = models.BinaryField(max_length=32)
    leaf = models.BinaryField(max_length=32)
    mac = models.BinaryField(max_length=32)

    FENCE: ClassVar = fenced(
        through(ByEpisode(hand=True), *READING),
        inserts=[through(ByEpisode(hand=True), Action.ASK_CORRECTION, *RECORDING)],
    )

    class Meta:
        constraints: ClassVar = [choice_check("entry_door", "door", Origin), *stamp_checks("entry")]
        indexes: ClassVar = [
            models.Index(fields=["episode", "number"], name="entry_received"),
            models.Index(fields=["episode", "at"], name="entry_happened"),
            models.Index(fields=["episode", "by", "kind"], name="entry_author"),
        ]


class EntryContent(models.Model):
    """What a fact says: the JSON object as it was sent, with `by` and `role` as the register had them."""

    entry = models.OneToOneField(
        Entry, on_delete=models.PROTECT, to_field="id", primary_key=True, related_name="content"
    )
    body = models.TextField()
    salt = models.BinaryField(max_length=16)

    FENCE: ClassVar = fenced(
        through(Via("checklists_entry", "entry_id"), *READING), inserts=[through(Somebody())]
    )  # with its entry, in one statement


class SignedEvidence(models.Model):
    """What stood on the screen when a skill was signed off: the statement, the evidence and its digest. Append-only."""

    entry = models.OneToOneField(
        Entry, on_delete=models.PROTECT, to_field="id", primary_key=True, related_name="signed_evidence"
    )
    skill = models.CharField(max_length=60)
    statement = models.TextField()
    evidence = models.TextField(help_text="canonical JSON (RFC 8785)")
    digest = models.CharField(max_length=64)
    protocol = models.CharField(max_length=60)
    signer_name = models.CharField(max_length=120, help_text="as it was when it was signed")
    countersigner = models.ForeignKey("clinic.Staff", on_delete=models.PROTECT, null=True, related_name="+")
    countersign_reason = models.CharField(max_length=400, blank=True)

    FENCE: ClassVar = fenced(
        through(Via("checklists_entry", "entry_id"), *READING),
        inserts=[through(Via("checklists_entry", "entry_id", ByEpisode()), Action.SIGN_OFF)],
    )


class RefusedEntry(models.Model):
    """What was not taken, with the error, so that nothing that somebody recorded is lost."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    episode = models.ForeignKey("caseload.Episode", on_delete=models.PROTECT, null=True, related_name="refused_entries")
    sender = models.ForeignKey("clinic.Staff", on_delete=models.PROTECT, related_name="+")
    received_at = models.DateTimeField()
    door = models.CharField(max_length=10, choices=Origin)
    raw = models.TextField()
    error = models.TextField()
    urgent = models.BooleanField(default=False, help_text="a fall or an unsafe attempt: before the lead at once")
    settled_by = models.ForeignKey("clinic.Staff", on_delete=models.PROTECT, null=True, related_name="+")
    settled_at = models.DateTimeField(null=True)
    again_as = models.UUIDField(null=True, help_text="the entry as which it was recorded again")

    FENCE: ClassVar = fenced(
        through(Theirs("sender_id"), Action.SEE_REFUSED),
        through(ByEpisode(hand=True), Action.SEE_ALERTS),
        inserts=[through(ByEpisode(hand=True), Action.ASK_CORRECTION, *RECORDING)],
        updates=[through(Theirs("sender_id"), Action.SEE_REFUSED)],
    )

    @classmethod
    def within(cls, actor: Staff, scope: Scope, at: datetime) -> Q:
        """A lead sees them all, everybody else what they sent themselves."""
        return Q() if scope is Scope.ALL else Q(sender=actor)


class HeldEntry(OfEpisode, models.Model):
    """A late fact whose author had no access when it happened, or that came after seven days: the lead releases it or
    not."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    episode = models.ForeignKey("caseload.Episode", on_delete=models.PROTECT, related_name="held_entries")
    entry = models.UUIDField(unique=True, help_text="the id that it will have in the record")
    sender = models.ForeignKey("clinic.Staff", on_delete=models.PROTECT, related_name="+")
    received_at = models.DateTimeField()
    door = models.CharField(max_length=10, choices=Origin)
    raw = models.TextField()
    reason = models.CharField(max_length=400)
    settled_by = models.ForeignKey("clinic.Staff", on_delete=models.PROTECT, null=True, related_name="+")
    settled_at = models.DateTimeField(null=True)
    released = models.BooleanField(null=True)

    FENCE: ClassVar = fenced(
        through(Theirs("sender_id"), Action.SEE_REFUSED),
        through(ByEpisode(hand=True), Action.SEE_PERSON, Action.RELEASE_LATE),
        inserts=[through(ByEpisode(hand=True), Action.ASK_CORRECTION, *RECORDING)],
        updates=[through(ByEpisode(), Action.RELEASE_LATE)],
    )


class Head(models.Model):
    """Where the fold of an episode stands: the snapshot from which the next entry is folded, and the board row of
    lists.

    `board` is page-shaped: {"skills": {key: {status, …}}, "knees": [...], "next": [...], "check_first": [...]}. It
    holds until `stale_at`, the instant at which the passing of time alone changes a status (a sign-off lapses).
    The row is also the lock under which an episode is written.
    """

    episode = models.OneToOneField("caseload.Episode", on_delete=models.PROTECT, primary_key=True, related_name="head")
    protocol = models.ForeignKey(ProtocolVersion, on_delete=models.PROTECT, related_name="+")
    snapshot = models.BinaryField()
    board = models.JSONField(default=dict)
    stale_at = models.DateTimeField(null=True)
    last_at = models.DateTimeField(null=True, help_text="when the last fact in order happened")
    entries = models.PositiveIntegerField(default=0)
    updated_at = models.DateTimeField()

    FENCE: ClassVar = fenced(
        through(ByEpisode(hand=True), *READING),
        writes=[through(ByEpisode(hand=True), Action.ASK_CORRECTION, *RECORDING)],
    )

    class Meta:
        indexes: ClassVar = [
            models.Index(fields=["stale_at"], name="head_stale", condition=Q(stale_at__isnull=False)),
        ]


class Deadline(OfEpisode, models.Model):
    """Something that must be shown by an instant, from a rule with `expect` and `within` or from an unreviewed fall."""

    id = models.BigAutoField(primary_key=True)
    episode = models.ForeignKey("caseload.Episode", on_delete=models.PROTECT, related_name="deadlines")
    rule = models.CharField(max_length=60)
    entry = models.UUIDField()
    at = models.DateTimeField()
    due_at = models.DateTimeField()
    severity = models.CharField(max_length=10)
    met_at = models.DateTimeField(null=True, help_text="when it was seen to be met, or no longer follows")
    reported_at = models.DateTimeField(null=True)

    FENCE: ClassVar = fenced(
        through(ByEpisode(hand=True), *READING), writes=[through(ByEpisode(hand=True), *RECORDING)]
    )

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["episode", "rule", "entry"], name="deadline_once"),
        ]
        indexes: ClassVar = [
            models.Index(
                fields=["due_at"],
                name="deadline_open",
                condition=Q(met_at__isnull=True, reported_at__isnull=True),
            )
        ]
