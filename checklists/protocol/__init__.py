"""The protocol as people may read it."""
