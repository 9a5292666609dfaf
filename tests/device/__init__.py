"""What a tablet does with what it keeps, as far as that can be tried without a browser."""
