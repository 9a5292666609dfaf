"""What the settings say, rule by rule. Some rules are about variables, some about what stands in settings.py, so that
nobody loosens it unseen.

Lengths of secrets: Django's own limit for SECRET_KEY (50 characters, check security.W009), 16 for passwords of
services: common practice, no source.
"""

from __future__ import annotations

import json
import re
import stat
from collections.abc import Callable, Iterator
from ipaddress import ip_address
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from clinic.ledger.keys import NO_SEALING, key_files
from clinic.run.finding import Finding

KNOWN = re.compile(r"change.?me|insecure|example|default|password|secret|clinic|12345|abcde|(.)\1{4}", re.IGNORECASE)
KEY_LENGTH, KEY_LETTERS, PASSWORD_LENGTH = 50, 15, 16
MAKE = "make them once with `manage.py ledger_keys make`"
YEAR = 365 * 24 * 3600
MOST_IDLE_SECONDS, MOST_SESSION_HOURS = 3600, 24  # NIST SP 800-63B-4, AAL2: 1 hour, 24 hours
NOT_THE_PROGRAMMES = frozenset({"postgres", "clinic_owner", "root", "admin"})
Rule = Callable[[Any], Iterator[Finding]]


def findings(settings: Any) -> list[Finding]:
    """Everything wrong with these settings for a server that people's records may be in."""
    return [found for rule in RULES for found in rule(settings)]


def _secret(settings: Any) -> Iterator[Finding]:
    key = str(settings.SECRET_KEY)
    to_do = "give a long random one of your own (`openssl rand -base64 60`)."
    if len(key) < KEY_LENGTH or len(set(key)) < KEY_LETTERS:
        yield Finding("secret_short", f"SECRET_KEY is too short or too plain ({len(key)} characters): {to_do}")
    elif KNOWN.search(key):
        yield Finding("secret_known", f"SECRET_KEY looks like one that others know: {to_do}")
    demo = Path(settings.DATA_DIR) / "secrets.json"
    if demo.is_file() and key in json.loads(demo.read_text()).values():
        yield Finding("secret_demo", f"SECRET_KEY is the demo's: {to_do}")


def _debug(settings: Any) -> Iterator[Finding]:
    if settings.DEBUG or any(engine.get("OPTIONS", {}).get("debug") for engine in settings.TEMPLATES):
        yield Finding("debug", "DEBUG is on, which shows the inside of the programme to everybody: turn it off.")
    if settings.CLOCK_CAN_BE_SET:
        yield Finding("clock_set", "CLOCK_CAN_BE_SET is on: only the demo may set its clock; turn it off.")
    level = settings.LOGGING["root"]["level"]
    if level in ("DEBUG", "NOTSET"):
        yield Finding(
            "log_level", f"LOG_LEVEL is {level}, which writes what is asked of the database: set it to WARNING."
        )


def _hosts(settings: Any) -> Iterator[Finding]:
    hosts, name = list(settings.ALLOWED_HOSTS), urlsplit(settings.PUBLIC_ADDRESS).hostname or ""
    if any(host == "*" or host.startswith(".") for host in hosts):
        yield Finding("hosts_open", "ALLOWED_HOSTS answers to more than single names ('*' or '.…'): name each host.")
    elif name not in hosts:
        yield Finding("hosts_missing", f"ALLOWED_HOSTS does not name {name!r}, the host of PUBLIC_ADDRESS: add it.")
    if [one for one in settings.CSRF_TRUSTED_ORIGINS if "*" in one or one != settings.PUBLIC_ADDRESS]:
        yield Finding("origins", "CSRF_TRUSTED_ORIGINS trusts more than PUBLIC_ADDRESS: take the rest out.")


def _https(settings: Any) -> Iterator[Finding]:
    if not settings.PUBLIC_ADDRESS.startswith("https://"):
        yield Finding(
            "no_https", "PUBLIC_ADDRESS does not begin with https://: put a proxy with a certificate in front."
        )
    elif not settings.HTTPS:
        yield Finding("https_off", "HTTPS is turned off although PUBLIC_ADDRESS is https://: leave HTTPS unset.")
    elif not _all_secure(settings):
        yield Finding("https_loose", "HSTS of a year, the redirect to HTTPS or secure cookies are off: turn them on.")
    if settings.USE_X_FORWARDED_HOST or settings.USE_X_FORWARDED_PORT:
        yield Finding("forwarded", "USE_X_FORWARDED_HOST lets a request choose the host in links: turn it off.")
    if settings.SECURE_PROXY_SSL_HEADER and not settings.PROXIES:
        yield Finding("proxy_header", "SECURE_PROXY_SSL_HEADER is believed without a proxy in front: set BEHIND_PROXY.")


def _all_secure(settings: Any) -> bool:
    cookies = (settings.SESSION_COOKIE_NAME, settings.CSRF_COOKIE_NAME)
    return bool(
        settings.SECURE_HSTS_SECONDS >= YEAR
        and settings.SECURE_HSTS_INCLUDE_SUBDOMAINS
        and settings.SECURE_SSL_REDIRECT
        and settings.SESSION_COOKIE_SECURE
        and settings.CSRF_COOKIE_SECURE
        and settings.SESSION_COOKIE_HTTPONLY
        and all(name.startswith("__Host-") for name in cookies)
        and {settings.SESSION_COOKIE_SAMESITE, settings.CSRF_COOKIE_SAMESITE} <= {"Lax", "Strict"}
    )


def _browsers(settings: Any) -> Iterator[Finding]:
    directives = settings.CONTENT_SECURITY_POLICY["DIRECTIVES"]
    loose = [
        name for name, values in directives.items() if [v for v in values if "unsafe" in v or "*" in v or ":" in v]
    ]
    if loose or "'none'" not in directives.get("object-src", ()) or "default-src" not in directives:
        yield Finding("policy", f"CONTENT_SECURITY_POLICY is loosened ({', '.join(loose) or 'parts are missing'}).")
    if settings.SECURE_CROSS_ORIGIN_OPENER_POLICY != "same-origin" or settings.X_FRAME_OPTIONS != "DENY":
        yield Finding("windows", "The pages may be framed or reached from other windows: set both policies back.")


def _people(settings: Any) -> Iterator[Finding]:
    if "Argon2" not in settings.PASSWORD_HASHERS[0]:
        yield Finding("hasher", "PASSWORD_HASHERS does not begin with Argon2: passwords would be kept too weakly.")
    lengths = [v.get("OPTIONS", {}).get("min_length", 0) for v in settings.AUTH_PASSWORD_VALIDATORS]
    if not lengths or max(lengths) < 15:
        yield Finding("validators", "AUTH_PASSWORD_VALIDATORS lets short passwords pass: ask for 15 characters.")
    if not 0 < settings.IDLE_SECONDS <= MOST_IDLE_SECONDS:
        yield Finding("idle", f"IDLE_SECONDS is {settings.IDLE_SECONDS}: an unused session must end within an hour.")
    if not 0 < settings.SESSION_HOURS <= MOST_SESSION_HOURS:
        yield Finding("session", f"SESSION_HOURS is {settings.SESSION_HOURS}: a session must end within a day.")


def _database(settings: Any) -> Iterator[Finding]:
    database = settings.DATABASES.get("default")
    if not database:
        yield Finding("database_none", "DATABASE_URL is not set: a server needs a database that lasts.")
        return
    role, word = str(database["USER"]), str(database["PASSWORD"])
    if role in NOT_THE_PROGRAMMES:
        yield Finding("role", f"DATABASE_URL signs in as {role!r}, one role for everything: sign in as clinic_app.")
    by_socket = str(database["HOST"]).startswith("/")
    if not by_socket and (len(word) < PASSWORD_LENGTH or KNOWN.search(word)):
        yield Finding("database_password", "The password in DATABASE_URL is missing, short or known: give a long one.")


def _broker(settings: Any) -> Iterator[Finding]:
    for name in ("BROKER_URL", "CACHE_URL"):
        if not urlsplit(getattr(settings, name)).password:
            yield Finding(
                "broker_password", f"{name} has no password: whoever reaches the broker wakes tasks.", warning=True
            )


def _mail(settings: Any) -> Iterator[Finding]:
    if not settings.EMAIL_HOST or "smtp" not in settings.EMAIL_BACKEND:
        yield Finding("mail_none", "EMAIL_HOST is not set: alerts would be written into a log instead of sent.")
        return
    if settings.DEFAULT_FROM_EMAIL.rpartition("@")[2] in ("", "localhost"):
        yield Finding("mail_from", "EMAIL_FROM is not set: give the address that the clinic's mail comes from.")
    if not settings.EMAIL_USE_TLS and not _near(settings.EMAIL_HOST):
        yield Finding("mail_plain", "EMAIL_TLS is off: mail and its password would cross the network in plain text.")


def _near(host: str) -> bool:
    """This machine, or a name without a dot: a service beside us."""
    try:
        return ip_address(host).is_loopback
    except ValueError:
        return "." not in host


def _keys(settings: Any) -> Iterator[Finding]:
    folder = Path(settings.LEDGER_KEYS)
    keys = list(folder.rglob("*.key")) if folder.is_dir() else []
    if not keys or not (folder / "ring.json").is_file():
        yield Finding("keys_none", f"LEDGER_KEYS ({folder}) holds no keys to seal the record with: {MAKE}.")
        return
    others = stat.S_IRWXG | stat.S_IRWXO
    if folder.stat().st_mode & others:
        yield Finding("keys_open", f"The folder LEDGER_KEYS ({folder}) can be entered by others: `chmod 700` it.")
    if any(path.stat().st_mode & others for path in keys):
        yield Finding("keys_readable", f"Keys in LEDGER_KEYS ({folder}) can be read by others: `chmod 600` them.")
    if not key_files(folder, "sealing"):
        yield Finding("keys_no_sealing", f"LEDGER_KEYS ({folder}): {NO_SEALING}", warning=True)


def _time(settings: Any) -> Iterator[Finding]:
    if settings.TIME_ZONE != "UTC" or not settings.USE_TZ or settings.CELERY_TIMEZONE != "UTC":
        yield Finding("not_utc", "The programme's clock is not UTC: set TIME_ZONE and CELERY_TIMEZONE back to UTC.")


RULES: tuple[Rule, ...] = (
    *(_secret, _debug, _hosts, _https, _browsers, _people, _database, _broker, _mail, _keys, _time),
)
