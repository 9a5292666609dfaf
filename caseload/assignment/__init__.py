"""Who carries an episode, and who stands in."""
