"""Backups: made whole and consistent, proven by restoring them, restored on the day when it counts.

The owner of the tables dumps and restores (MIGRATE_DATABASE_URL); the programme's own role says that it happened.
"""
