"""How grave a break is: the words that rules, alerts, messages and pages share."""

from django.db import models
from django.utils.translation import pgettext_lazy


class Severity(models.TextChoices):
    """SEMANTICS.md §2."""

    CRITICAL = "critical", pgettext_lazy("severity", "critical")
    MAJOR = "major", pgettext_lazy("severity", "major")
    MINOR = "minor", pgettext_lazy("severity", "minor")
