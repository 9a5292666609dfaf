"""Today: the day of who is signed in."""
