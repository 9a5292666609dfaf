"""Planned sessions."""
