"""The lead's Caseload page, and opening an episode from it."""
