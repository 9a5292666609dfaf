"""Template tags of the pages of the gym."""
