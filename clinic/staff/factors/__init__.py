"""Second factors: codes by time, passkeys, recovery codes; who must have one, and how one is shown."""
