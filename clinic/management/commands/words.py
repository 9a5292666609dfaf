"""`manage.py words`: brings the catalogues up to date with the code, compiles them, and says what is wrong."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError


class Command(BaseCommand):
    """Extract, update, compile, report. Changes no translation that stands."""

    help = "Brings the texts to translate up to date with the code, compiles them, and reports what is missing."
    requires_system_checks: list[str] = []  # noqa: RUF012 - Django's own word is a plain list

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("apps", nargs="*", help="only these apps; otherwise all")
        parser.add_argument("--tidy", action="store_true", help="drop what the code no longer says")
        parser.add_argument(
            "--check", action="store_true", help="write nothing; fail where a file is not as it should be"
        )

    def handle(self, *args: Any, apps: list[str], tidy: bool, check: bool, **options: Any) -> None:
        from clinic.language.catalogue import work  # Babel is there where texts are worked on, not where pages are read

        if unknown := set(apps) - set(work.APPS):
            raise CommandError(f"There is no app {', '.join(sorted(unknown))}. They are: {', '.join(work.APPS)}.")
        root, languages = (
            Path(settings.BASE_DIR),
            [code for code, _ in settings.LANGUAGES if code != settings.LANGUAGE_CODE],
        )
        wanted = [file for language in languages for file in work.files(root, language, apps or work.APPS, tidy=tidy)]
        stale = [path for path, content in wanted if not path.exists() or path.read_bytes() != content]
        for path, content in wanted if not check else ():
            if path in stale:
                path.parent.mkdir(parents=True, exist_ok=True)
                path.write_bytes(content)
        for path in stale:
            self.stdout.write(f"{'not as it should be' if check else 'written'}: {path.relative_to(root)}")
        faults = [fault for language in languages for fault in work.faults(root, language)]
        for fault in faults:
            self.stdout.write(fault)
        self.stdout.write(f"{len(faults)} to mend." if faults else "Every text is translated.")
        if check and (stale or faults):
            raise CommandError("The catalogues are not complete: run manage.py words, and translate what it names.")
