"""That the accounts were looked through: by whom, when, with which words."""

from __future__ import annotations

import uuid
from typing import ClassVar

from django.db import models

from clinic.staff.models import Staff


class AccountReview(models.Model):
    """One look through the accounts. `findings`: how many accounts and tablets had something to look at."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    by = models.ForeignKey(Staff, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()
    findings = models.PositiveIntegerField()
    note = models.CharField(max_length=2000)

    class Meta:
        indexes: ClassVar = [models.Index(fields=["-at"], name="account_review_newest")]
