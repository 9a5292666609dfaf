"""People and their way through the clinic."""

from django.apps import AppConfig


class CaseloadConfig(AppConfig):
    """People and their way through the clinic."""

    name = "caseload"
