"""What was done and what it means."""

from django.apps import AppConfig


class ChecklistsConfig(AppConfig):
    """What was done and what it means."""

    name = "checklists"
