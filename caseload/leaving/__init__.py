"""Somebody leaves, or works elsewhere from a day on: what is in their hands, and how it is handed on."""
