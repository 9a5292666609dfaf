"""`manage.py witness --port P --folder F --key RING`: keeps and compares the checkpoints of a ledger."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from clinic.ledger.note import NotGenuine
from clinic.ledger.ring import Ring
from clinic.ledger.witness_keep import Keep
from clinic.ledger.witness_server import server


class Command(BaseCommand):
    """A witness. It needs no database: a folder, and the public key ring of the ledger that it watches."""

    help = "Keep the checkpoints that a ledger sends, and refuse (and keep) what contradicts them."
    requires_system_checks: tuple[str, ...] = ()

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--port", type=int, required=True)
        parser.add_argument("--host", default="127.0.0.1", help="the address to listen at (this machine only)")
        parser.add_argument("--folder", type=Path, required=True, help="where the checkpoints are kept")
        parser.add_argument("--key", type=Path, required=True, help="the public key ring of the ledger, a file")

    def handle(self, *_: Any, **options: Any) -> None:
        try:
            keep = Keep.at(options["folder"], Ring.load(options["key"].read_text()))
            with server(keep, options["host"], options["port"]) as witness:
                at = keep.latest.size if keep.latest is not None else 0
                address = f"http://{options['host']}:{witness.server_address[1]}"
                self.stdout.write(f"Witness of {keep.ring.origin} at {address}, standing at size {at}.")
                self.stdout.flush()
                witness.serve_forever()
        except (OSError, NotGenuine) as error:
            raise CommandError(str(error)) from error
        except KeyboardInterrupt:
            self.stdout.write("Stopped.")
