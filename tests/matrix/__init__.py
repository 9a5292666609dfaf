"""Every address and operation × role × relation to the person."""
