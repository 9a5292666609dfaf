"""The gym's shared tablets: enrolled by a lead, opened for recording by a colleague's own PIN."""
