"""People and their way through the clinic."""
