"""Both embedded servers on one data folder, and the environment that the program needs to reach them."""

import hashlib
import os
import subprocess
import sys
from pathlib import Path

from clinic.ledger.keys import made_in
from clinic.run.places import ROOT, Unusable
from clinic.run.postgres import APP, OWNER, Postgres, owned_by_us
from clinic.run.progress import say
from clinic.run.secret import kept_in
from clinic.run.valkey import Valkey


class Servers:
    """PostgreSQL and Valkey, started and stopped together."""

    def __init__(self, folder: Path) -> None:
        if not owned_by_us(folder):
            raise Unusable(
                f"The data in {folder} were made under another account (root?): "
                "start as that account, remove the folder, or set DATA_DIR to another."
            )
        self._folder = folder
        self._secrets = kept_in(folder)
        self.postgres = Postgres(folder, self._secrets)
        self.valkey = Valkey(folder, self._secrets["broker"])

    def start(self) -> None:
        """Start both; none is left running when one fails."""
        try:
            self.postgres.start()
            self.valkey.start()
        except BaseException:
            self.stop()
            raise

    def stop(self) -> None:
        """Stop both."""
        self.valkey.stop()
        self.postgres.stop()

    def environment(self) -> dict[str, str]:
        """What the program needs to know; the owner's address is not part of it."""
        return {
            "DATABASE_URL": self.postgres.url(APP),
            "BROKER_URL": self.valkey.url(0),
            "CACHE_URL": self.valkey.url(1),
            "SECRET_KEY": self._secrets["key"],
            "DATA_DIR": str(self._folder),
            "LEDGER_KEYS": str(made_in(self._folder / "keys", "alder-reach.example/ledger")),
        }

    def owner(self) -> dict[str, str]:
        """What commands that change the schema need besides."""
        clients = self.postgres.tool("psql").parent  # `dbshell` needs the server's own client
        return {"MIGRATE_DATABASE_URL": self.postgres.url(OWNER), "PATH": f"{clients}:{os.environ.get('PATH', '')}"}

    def forget_migrations(self) -> None:
        """The schema is about to be changed by hand: look again at the next start."""
        (self._folder / "migrated").unlink(missing_ok=True)

    def migrate(self) -> None:
        """Bring the schema up to date as the owner, unless no migration has changed since the last time."""
        stamp, state = self._folder / "migrated", _state_of_migrations()
        if stamp.exists() and stamp.read_text() == state:
            return
        say("Bringing the database's tables up to date …")
        stamp.unlink(missing_ok=True)
        # whatever command comes next checks the program; doing it here too takes as long as making the tables
        words = ("migrate", "--no-input", "--verbosity=0", "--skip-checks")
        manage(*words, environment=self.environment() | self.owner())
        stamp.write_text(state)


def begin(*words: str, environment: dict[str, str]) -> subprocess.Popen[bytes]:
    """Start a command of `manage.py` in a process of its own, which ends with this one and is not hit by Ctrl-C."""
    command = [sys.executable, str(ROOT / "manage.py"), *words]
    return subprocess.Popen(command, env=os.environ | environment | {"CLINIC_LIFELINE": "1"}, cwd=ROOT, process_group=0)


def manage(*words: str, environment: dict[str, str]) -> None:
    """Run such a command to its end; a failure stops the start."""
    process = begin(*words, environment=environment)
    try:
        code = process.wait()
    finally:
        process.terminate()  # does nothing to one that has ended
    if code:
        raise Unusable(f"`manage.py {words[0]}` failed (exit status {code}); what it said stands above.")


def _state_of_migrations() -> str:
    """A digest of every migration of ours, of the lock file for those of the libraries, and of what the fence in the
    database is made from: `migrate` puts it up anew."""
    digest = hashlib.sha256((ROOT / "requirements.txt").read_bytes())
    fence = [*ROOT.glob("clinic/access/*.py"), *ROOT.glob("clinic/**/*models.py"), *ROOT.glob("c*/*/*models.py")]
    for path in sorted({*ROOT.glob("*/migrations/*.py"), *fence}):
        digest.update(f"{path.name}\n".encode() + path.read_bytes())
    return digest.hexdigest()
