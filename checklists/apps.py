"""What was done and what it means."""

from django.apps import AppConfig


class ChecklistsConfig(AppConfig):
    """What was done and what it means."""

    name = "checklists"

    def ready(self) -> None:
        """Make the record a table of the ledger, whichever process it is that seals or verifies."""
        from checklists.record import leaf  # noqa: F401 - imported for its effect
