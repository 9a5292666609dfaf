"""What a tablet had sealed when its user left before it was sent: kept for its author, and recorded by nobody else."""
