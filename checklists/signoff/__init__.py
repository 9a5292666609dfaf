"""Signing skills off."""
