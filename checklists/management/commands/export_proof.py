"""`manage.py export_proof REFERENCE FILE.zip`: a proof bundle about one sign-off or one episode."""

from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from checklists.proof.services import Exported, export_proof
from clinic.errors import Refusal
from clinic.ledger.keys import NoKeys
from clinic.management.asker import add_asker, asker
from clinic.staff.models import Staff


class Command(BaseCommand):
    """Thin: names the sign-off or episode and the file, and says what whoever checks it will read."""

    help = "Write the proof bundle about one sign-off or one episode. Leaves a row in the trail."

    def add_arguments(self, parser: CommandParser) -> None:
        """About what, where to, who asks, and what it shall be comparable with."""
        parser.add_argument(
            "reference", metavar="REFERENCE", help="the id of a sign-off's entry, or the reference or id of an episode"
        )
        parser.add_argument("file", metavar="FILE.zip", type=Path, help="where to write; it must not exist yet")
        add_asker(parser)
        kept = "a checkpoint kept elsewhere, with which the bundle shall be comparable; may be given again"
        parser.add_argument("--checkpoint", metavar="FILE", type=Path, action="append", default=[], help=kept)

    def handle(self, *args: Any, **options: Any) -> None:
        """Export, and say what was found."""
        actor = asker(options)
        try:
            notes = [path.read_text(encoding="utf-8") for path in options["checkpoint"]]
            with options["file"].open("xb") as out:
                made = self._made(options, actor, notes)
                out.write(made.content)
        except (OSError, UnicodeDecodeError) as fault:
            raise CommandError(f"{getattr(fault, 'filename', None) or 'The checkpoint'}: {_words(fault)}.") from None
        for status, text in made.lines:
            self.stdout.write(f"{status:6} {text}")
        self.stdout.write(f"\n{made.sentence}")
        self.stderr.write(f"Wrote {options['file']} ({len(made.content):,} bytes).")
        if not made.holds:
            raise CommandError("The bundle was written, but does not prove everything that it holds: see above.")

    def _made(self, options: dict[str, Any], actor: Staff | None, notes: list[str]) -> Exported:
        try:
            return export_proof(actor=actor, reference=options["reference"], notes=notes)
        except (Refusal, NoKeys) as fault:
            options["file"].unlink()
            raise CommandError(getattr(fault, "sentence", str(fault))) from None


def _words(fault: Exception) -> str:
    return fault.strerror or str(fault) if isinstance(fault, OSError) else "is no text"
