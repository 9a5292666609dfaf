"""The day without power: a printed sheet a person, and the page on which it is entered afterwards."""
