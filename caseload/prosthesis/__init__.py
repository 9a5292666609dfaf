"""The device register."""
