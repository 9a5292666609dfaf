"""`manage.py ledger_keys make|list|rotate|close`: the keys of the ledger, in the folder LEDGER_KEYS."""

from __future__ import annotations

from argparse import ArgumentParser
from typing import Any
from urllib.parse import urlsplit

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError

from clinic import clock
from clinic.ledger import keys
from clinic.ledger.keys import NoKeys
from clinic.ledger.note import NotGenuine
from clinic.ledger.ring import Ring
from clinic.ledger.rotation import NotNow, close, rotate
from clinic.ledger.trust import Broken

KEEP = "Keep a copy of {0} where neither the database nor its backups are, and write the fingerprint down on paper."


class Command(BaseCommand):
    """Makes, lists, rotates and closes them."""

    help = "Make the ledger's keys once, list them, add new ones, end the old ones."
    requires_system_checks: tuple[str, ...] = ()

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("what", choices=("make", "list", "rotate", "close"))
        parser.add_argument("--origin", help="the ledger's name, for ever (make); by default the host and /ledger")
        parser.add_argument("--at-once", action="store_true", help="close: the old keys were stolen, do not wait")

    def handle(self, *args: Any, what: str, origin: str | None, at_once: bool, **options: Any) -> None:
        try:
            ring = self._done(what, origin, at_once=at_once)
        except (FileExistsError, NoKeys, NotGenuine, NotNow, Broken, PermissionError) as fault:
            raise CommandError(str(fault)) from fault
        self._show(ring)
        if what in ("make", "rotate"):
            self.stdout.write(KEEP.format(keys.folder()))

    def _done(self, what: str, origin: str | None, *, at_once: bool) -> Ring:
        if what == "make":
            return keys.make(keys.folder(), origin or f"{urlsplit(settings.PUBLIC_ADDRESS).hostname}/ledger")
        if what == "list":
            return keys.ring()
        return rotate(clock.now()) if what == "rotate" else close(clock.now(), at_once=at_once)

    def _show(self, ring: Ring) -> None:
        self.stdout.write(f"{ring.origin}, in {keys.folder()}")
        for key in ring.keys:
            until = "open" if key.last is None else f"closed at {key.last} leaves"
            self.stdout.write(f"  seal  {key.fingerprint}  from {key.first} leaves, {until}")
        for kind in ("mac", "sealing"):
            for path in keys.key_files(keys.folder(), kind):
                self.stdout.write(f"  {kind:5} {path.name}")
        if not keys.key_files(keys.folder(), "sealing"):
            self.stdout.write(keys.NO_SEALING)
