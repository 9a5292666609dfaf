"""How grave a break is: the words that rules, alerts, messages and pages share."""

from django.db import models


class Severity(models.TextChoices):
    """SEMANTICS.md §2."""

    CRITICAL = "critical", "critical"
    MAJOR = "major", "major"
    MINOR = "minor", "minor"
