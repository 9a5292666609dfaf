"""News that must be told: written with the fact, told afterwards, at least once."""

from typing import ClassVar

from django.db import models
from django.db.models import Q

from clinic.access.fenced import Anybody, fenced, through


class OutboxRow(models.Model):
    """One message that waits to be handled, or was. A worker leases it, handles it and marks it, in that order."""

    number = models.BigAutoField(primary_key=True)
    topic = models.CharField(max_length=60, help_text="noun.past_tense")
    payload = models.JSONField()
    dedupe_key = models.CharField(max_length=200, unique=True)
    created_at = models.DateTimeField()
    due_at = models.DateTimeField()
    leased_until = models.DateTimeField(null=True)
    attempts = models.PositiveIntegerField(default=0)
    done_at = models.DateTimeField(null=True)
    last_error = models.CharField(max_length=400, blank=True)

    FENCE: ClassVar = fenced(inserts=[through(Anybody())])  # read and handled by the worker

    class Meta:
        indexes: ClassVar = [
            models.Index(fields=["due_at"], name="outbox_waiting", condition=Q(done_at__isnull=True)),
        ]
