"""Whether the outside of the programme holds: what it says to browsers, takes from strangers, writes into logs."""
