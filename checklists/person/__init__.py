"""Person: one person: staircase, facts, settings, what they may do."""
