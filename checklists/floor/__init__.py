"""Floor: the page that stays open in the gym."""
