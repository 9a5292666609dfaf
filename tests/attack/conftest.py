"""The attack is tried on a ledger of its own."""

from tests.ledger.conftest import ledger

__all__ = ["ledger"]
