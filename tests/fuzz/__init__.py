"""Whatever is sent is taken or refused in words, never a fault."""
