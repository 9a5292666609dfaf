"""The same services and selectors behind another door: /api/v1."""
