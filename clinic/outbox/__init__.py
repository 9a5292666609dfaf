"""News that must be told."""
