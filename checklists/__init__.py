"""What was done and what it means."""
