"""One command a module; each is a thin door."""
