"""What a signature means: a closed list (21 CFR 11.50(a)(3)), and which of it each deed of ours is."""

from __future__ import annotations

from django.db import models


class Meaning(models.TextChoices):
    """The meaning that is printed beside the name and the time."""

    AUTHORSHIP = "authorship", "authorship"
    REVIEW = "review", "review"
    APPROVAL = "approval", "approval"
    RESPONSIBILITY = "responsibility", "responsibility"


SIGNING_OFF = Meaning.APPROVAL  # the signer judges that the evidence is enough
COUNTERSIGNING = Meaning.RESPONSIBILITY  # the lead answers for what the evidence does not carry
WITHDRAWING = Meaning.REVIEW  # the signer has looked again and takes it back
