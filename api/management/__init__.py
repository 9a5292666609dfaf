"""The commands of this app."""
