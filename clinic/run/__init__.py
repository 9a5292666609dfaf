"""The server processes, one file each, and what starts and watches them."""
