"""Hashing passwords where speed matters more than secrecy: in the demo, whose one password is printed for everybody."""

from django.contrib.auth.hashers import Argon2PasswordHasher


class DemoHasher(Argon2PasswordHasher):
    """Argon2 at its cheapest: the demo's year holds a thousand signatures, and each asks for the password again."""

    time_cost = 1
    memory_cost = 64  # KiB
    parallelism = 1
