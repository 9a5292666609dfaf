"""Episodes: opened, changed and closed by facts of the record."""
