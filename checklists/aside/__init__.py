"""What was set aside: refused entries, and late ones that wait for a lead."""
