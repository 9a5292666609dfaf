"""The app that every other one stands on."""

from django.apps import AppConfig


class ClinicConfig(AppConfig):
    """Staff, access, audit trail, outbox, shared pages."""

    name = "clinic"

    def ready(self) -> None:
        """Load the Celery application in every process; add to `check --deploy`."""
        from clinic import celery  # noqa: F401 - imported for its effect
        from clinic.audit import leaf  # noqa: F401 - the trail is a table of the ledger
        from clinic.audit.verifying import verify_details
        from clinic.ledger.verify import checks
        from clinic.run import deployment

        deployment.register()
        checks.register("details of the trail", verify_details)
