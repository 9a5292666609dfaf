"""Signs of life and alarms."""

from __future__ import annotations

import uuid
from typing import ClassVar

from django.db import models
from django.db.models import Q


class Beat(models.Model):
    """When something that has to happen again and again last went well. One row a name; no history."""

    name = models.CharField(max_length=40, primary_key=True)
    at = models.DateTimeField()
    detail = models.JSONField(default=dict, help_text="what the Watch page says beside it")


class Alarm(models.Model):
    """Something found that a person has to look at. Stays open until somebody says what came of it; never removed."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    kind = models.CharField(max_length=60, help_text="noun.past_tense")
    key = models.CharField(max_length=200, help_text="the same key again, while open, is the same alarm")
    text = models.CharField(max_length=2000, help_text="a plain sentence: what was found and what to do")
    raised_at = models.DateTimeField()
    settled_at = models.DateTimeField(null=True)
    settled_by = models.ForeignKey("clinic.Staff", on_delete=models.PROTECT, null=True, related_name="+")
    settled_text = models.CharField(max_length=2000, blank=True, help_text="what came of it")

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["key"], condition=Q(settled_at__isnull=True), name="alarm_open_once"),
        ]
        indexes: ClassVar = [models.Index(fields=["-raised_at"], name="alarm_newest")]
