"""The frame of every page: the way in, the shell, errors, marks."""
