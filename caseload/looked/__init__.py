"""Who looked at a person, when and why."""
