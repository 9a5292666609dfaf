"""What happens when processes die, double or lose one another."""
