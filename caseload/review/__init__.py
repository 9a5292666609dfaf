"""Planned reviews and their reminders."""
