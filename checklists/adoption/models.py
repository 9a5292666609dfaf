"""Adoptions: which version of a protocol this clinic has made its own, by whom and when. Append-only."""

from __future__ import annotations

import uuid

from django.db import models


class Adoption(models.Model):
    """A clinic lead adopted the thresholds of one protocol version. Once a version; it is never taken back.

    A clinic that changes its mind publishes another version and adopts that.
    """

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    protocol = models.OneToOneField("checklists.ProtocolVersion", on_delete=models.PROTECT, related_name="adoption")
    adopted_at = models.DateTimeField()
    adopted_by = models.ForeignKey("clinic.Staff", on_delete=models.PROTECT, related_name="+")
    adopter_name = models.CharField(max_length=120, help_text="as it was on that day")
    statement = models.TextField()
    shown = models.TextField(help_text="canonical JSON (RFC 8785) of the thresholds as they stood on the page")
    digest = models.CharField(max_length=64, help_text="SHA-256 of `shown`, hexadecimal")
