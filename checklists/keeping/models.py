"""How long records are kept, what holds them, what was taken out, and what was erased.

A setting, a request and a decision are rows that never change; `Erased` is written by the database's own function
(checklists/keeping/erase_sql.py) and by nothing else.
"""

from __future__ import annotations

import uuid
from datetime import datetime
from typing import ClassVar

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext as _

from caseload.models import Person
from checklists.keeping.archive.steps import step_words
from clinic.access.fenced import Whole, fenced, through
from clinic.access.policy import Action
from clinic.access.scope import Scope
from clinic.staff.models import Staff


class OfPerson:
    """Mix-in for rows that belong to a person by a field `person`: they are reached like the person."""

    @classmethod
    def within(cls, actor: Staff, scope: Scope, at: datetime) -> Q:
        """The rows whose person lies in the scope."""
        return Q() if scope is Scope.ALL else Q(person__in=Person.objects.filter(Person.within(actor, scope, at)))


class Retention(models.Model):
    """How long a site keeps a record after its episode has ended. The newest row of a site counts; none: for ever."""

    id = models.BigAutoField(primary_key=True)
    site = models.ForeignKey("clinic.Site", on_delete=models.PROTECT, related_name="retentions")
    years = models.PositiveSmallIntegerField(null=True, help_text="empty: kept for ever")
    reason = models.CharField(max_length=400, help_text="the law or policy that it follows")
    set_by = models.ForeignKey("clinic.Staff", on_delete=models.PROTECT, related_name="+")
    set_at = models.DateTimeField()

    class Meta:
        constraints: ClassVar = [
            models.CheckConstraint(name="retention_years", condition=Q(years__isnull=True) | Q(years__range=(1, 150))),
        ]


class LegalHold(OfPerson, models.Model):
    """Nothing of this person's record goes while one is in force, whatever the retention says."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    person = models.ForeignKey("caseload.Person", on_delete=models.PROTECT, related_name="legal_holds")
    reason = models.CharField(max_length=400)
    placed_by = models.ForeignKey("clinic.Staff", on_delete=models.PROTECT, related_name="+")
    placed_at = models.DateTimeField()
    lifted_by = models.ForeignKey("clinic.Staff", on_delete=models.PROTECT, null=True, related_name="+")
    lifted_at = models.DateTimeField(null=True)
    lift_reason = models.CharField(max_length=400, blank=True)

    FENCE: ClassVar = fenced(through(Whole(), Action.SEE_KEEPING), writes=[through(Whole(), Action.HOLD_RECORD)])

    class Meta:
        indexes: ClassVar = [
            models.Index(fields=["person"], name="hold_in_force", condition=Q(lifted_at__isnull=True)),
        ]


class Archive(OfPerson, models.Model):
    """A person's whole record, asked for as one file. The worker makes it; it is handed out once and then gone."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    person = models.ForeignKey("caseload.Person", on_delete=models.PROTECT, related_name="archives")
    why = models.CharField(max_length=400)
    asked_by = models.ForeignKey("clinic.Staff", on_delete=models.PROTECT, related_name="+")
    asked_at = models.DateTimeField()
    step = models.CharField(max_length=80, blank=True, help_text="what the worker is at")
    done = models.PositiveIntegerField(default=0)
    total = models.PositiveIntegerField(default=0)
    made_at = models.DateTimeField(null=True)
    size = models.PositiveBigIntegerField(null=True)
    digest = models.CharField(max_length=64, blank=True, help_text="SHA-256 of the file, hexadecimal")
    taken_at = models.DateTimeField(null=True)
    dropped_at = models.DateTimeField(null=True, help_text="when the file went without having been taken")

    @property
    def words(self) -> str:
        """How far it is."""
        return _("Being made: {step}").format(step=step_words(self.step)) if self.total else _("Waits for its turn")

    FENCE: ClassVar = fenced(
        through(Whole(), Action.SEE_KEEPING, Action.EXPORT_RECORD), writes=[through(Whole(), Action.EXPORT_RECORD)]
    )


class ArchiveFile(models.Model):
    """The file itself, from when it is made until it is taken, or for a day."""

    archive = models.OneToOneField(Archive, on_delete=models.PROTECT, primary_key=True, related_name="file")
    content = models.BinaryField()

    FENCE: ClassVar = fenced(through(Whole(), Action.EXPORT_RECORD), writes=[through(Whole(), Action.EXPORT_RECORD)])


class Erasure(OfPerson, models.Model):
    """A records officer asks that a person's record be erased, with the legal ground. Nothing happens by it alone."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    person = models.ForeignKey("caseload.Person", on_delete=models.PROTECT, related_name="erasures")
    ground = models.CharField(max_length=200, help_text="the provision of law that demands it")
    reason = models.CharField(max_length=400, help_text="stays for ever: no word about the person")
    overrides_retention = models.BooleanField(default=False, help_text="the ground demands it before retention ends")
    asked_by = models.ForeignKey("clinic.Staff", on_delete=models.PROTECT, related_name="+")
    asked_at = models.DateTimeField()

    FENCE: ClassVar = fenced(through(Whole(), Action.SEE_KEEPING), inserts=[through(Whole(), Action.ASK_ERASURE)])


class ErasureDecision(models.Model):
    """What a clinic lead, other than who asked, decided. One a request."""

    erasure = models.OneToOneField(Erasure, on_delete=models.PROTECT, primary_key=True, related_name="decision")
    confirmed = models.BooleanField()
    reason = models.CharField(max_length=400, blank=True, help_text="why it was turned down")
    decided_by = models.ForeignKey("clinic.Staff", on_delete=models.PROTECT, related_name="+")
    decided_at = models.DateTimeField()

    FENCE: ClassVar = fenced(through(Whole(), Action.SEE_KEEPING), inserts=[through(Whole(), Action.CONFIRM_ERASURE)])


class Erased(models.Model):
    """It was done. Written by the database's function in the same step that takes the content away."""

    erasure = models.OneToOneField(Erasure, on_delete=models.PROTECT, primary_key=True, related_name="erased")
    at = models.DateTimeField()
    counts = models.JSONField(help_text="table → rows that went or were emptied")

    FENCE: ClassVar = fenced(
        through(Whole(), Action.SEE_KEEPING)
    )  # written by the function of the database that erases
