"""Typed readers of environment variables: each gives a value of its type or stops the start with a sentence."""

import os
from typing import Any

from django.core.exceptions import ImproperlyConfigured

YES = frozenset({"1", "true", "yes", "on"})
NO = frozenset({"", "0", "false", "no", "off"})


def text(name: str, default: str = "") -> str:
    """A variable as it stands, without blanks around it."""
    return os.environ.get(name, default).strip()


def required(name: str, why: str) -> str:
    """A variable that has no default, such as a secret."""
    value = text(name)
    if not value:
        raise ImproperlyConfigured(f"{name} is not set: {why}")
    return value


def flag(name: str, *, default: bool) -> bool:
    """Yes or no."""
    value = os.environ.get(name)
    if value is None:
        return default
    word = value.strip().lower()
    if word not in YES | NO:
        raise ImproperlyConfigured(f"{name} is {value!r}: say yes or no.")
    return word in YES


def number(name: str, default: int) -> int:
    """A whole number."""
    value = text(name, str(default))
    try:
        return int(value)
    except ValueError:
        raise ImproperlyConfigured(f"{name} is {value!r}: it must be a whole number.") from None


def listing(name: str, default: str = "") -> list[str]:
    """Items between commas."""
    return [item.strip() for item in text(name, default).split(",") if item.strip()]


def database(url: str) -> dict[str, Any]:
    """Django's description of the PostgreSQL database at a `postgresql://` address (a socket: `?host=/folder`).

    Connections live on between requests and give a sign of life before the first query of each. Statements that come by
    psycopg's own cursors are prepared after their fifth use; Django's cursors bind on this side and are not.
    """
    from psycopg import ProgrammingError
    from psycopg.conninfo import conninfo_to_dict

    if not url.startswith(("postgresql://", "postgres://")):
        raise ImproperlyConfigured("DATABASE_URL must begin with postgresql://")
    try:
        parts = conninfo_to_dict(url)
    except ProgrammingError as fault:
        raise ImproperlyConfigured(f"DATABASE_URL cannot be read: {fault}") from None
    named = {"NAME": "dbname", "USER": "user", "PASSWORD": "password", "HOST": "host", "PORT": "port"}
    return {
        "ENGINE": "clinic.access.database",
        **{key: str(parts.pop(word, "")) for key, word in named.items()},
        "CONN_MAX_AGE": 3600,
        "CONN_HEALTH_CHECKS": True,
        "OPTIONS": {"prepare_threshold": 5, "connect_timeout": 5, **parts},
    }
