"""The clinic makes the protocol's thresholds its own, by name and date, before the first real record."""
