"""What was done and what it means."""

from django.apps import AppConfig


class ChecklistsConfig(AppConfig):
    """What was done and what it means."""

    name = "checklists"

    def ready(self) -> None:
        """Make the record a table of the ledger, whichever process it is that seals or verifies; let the plan know of
        strike-outs, of exchanges and of reviews."""
        from caseload.prosthesis import recorded
        from caseload.request import worth
        from caseload.review import held
        from checklists.bench.strikes import put_right
        from checklists.person.exchanged import recorded as exchanges
        from checklists.person.reviewed import reviewed
        from checklists.record import leaf  # noqa: F401 - imported for its effect
        from checklists.record.verifying import verify_contents
        from checklists.signoff.verifying import verify_signatures
        from clinic.ledger.verify import checks

        checks.register("contents", verify_contents)
        checks.register("signatures", verify_signatures)
        worth.register(put_right)
        recorded.register(exchanges)
        held.register(reviewed)
