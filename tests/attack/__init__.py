"""The attacker: the database's superuser with triggers off, and sometimes with stolen keys."""
