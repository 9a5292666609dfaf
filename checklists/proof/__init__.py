"""Proof bundles: what one sign-off or one episode says, with everything that shows it was not changed since."""
