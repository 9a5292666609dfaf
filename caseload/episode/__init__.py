"""The plan's side of an episode."""
