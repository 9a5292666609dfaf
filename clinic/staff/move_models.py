"""A move to another site that is planned for a day."""

from __future__ import annotations

import uuid
from typing import ClassVar

from django.db import models
from django.db.models import Q

from clinic.staff.models import Site, Staff


class SiteMove(models.Model):
    """From this local day on somebody works at another site. Done or cancelled once; never deleted."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    staff = models.ForeignKey(Staff, on_delete=models.PROTECT, related_name="moves")
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    on_day = models.DateField()
    planned_by = models.ForeignKey(Staff, on_delete=models.PROTECT, related_name="+")
    planned_at = models.DateTimeField()
    done_at = models.DateTimeField(null=True)
    cancelled_at = models.DateTimeField(null=True)

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["staff"],
                name="site_move_one_at_a_time",
                condition=Q(done_at__isnull=True, cancelled_at__isnull=True),
            ),
        ]
