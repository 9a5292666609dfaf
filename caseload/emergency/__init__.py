"""Reading a record that is not one's own, in an emergency."""
