"""What a person costs in time."""
