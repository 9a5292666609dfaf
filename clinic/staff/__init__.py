"""Staff, their roles, sites and credentials."""
