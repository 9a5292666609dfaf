"""Verifying the ledger: what is in the database, against what was sealed, signed, and carried elsewhere."""
