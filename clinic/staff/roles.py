"""The roles of domain.md, and which of several a record is stamped with."""

from django.db import models


class Role(models.TextChoices):
    """What a member of staff is to the clinic. The patient has no account."""

    CLINIC_LEAD = "clinic_lead", "clinic lead"
    THERAPIST = "therapist", "therapist"
    PROSTHETIST = "prosthetist", "prosthetist"
    ASSISTANT = "assistant", "assistant"
    RECORDS_OFFICER = "records_officer", "records officer"


# Who has several roles is recorded under the one with the widest answer for what is done in the gym.
STAMP_ORDER = (Role.CLINIC_LEAD, Role.THERAPIST, Role.PROSTHETIST, Role.ASSISTANT)


class KneeFeature(models.TextChoices):
    """A feature of a mechanical knee for which staff are authorised one by one."""

    LOCK = "lock", "manual lock"
    FREE_SWING = "free_swing", "free-swing mode"
    YIELDING = "yielding", "yielding"
