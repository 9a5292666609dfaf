"""Persons and their weights."""
