"""The board of a caseload: one row a person, from projections only."""
