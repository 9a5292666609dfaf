"""The demo clinic: an invented clinic that lives through a year, through the same services as a real one."""
