"""The embedded PostgreSQL: a real server, a child of ours, on a private socket and no port.

The programmes come from a wheel; starting, watching and stopping is done here. As root the server runs as `nobody`.
"""

import os
import shutil
import signal
import subprocess
import tempfile
import time
from pathlib import Path
from urllib.parse import quote

import psycopg
from psycopg import sql

from clinic.run import child
from clinic.run.places import ROOT, Unusable, postgres_programmes

SUPERUSER, OWNER, APP = "postgres", "clinic_owner", "clinic_app"
DATABASE = "clinic"
LONGEST_SOCKET = 107  # bytes in a socket's path, by the kernel
UNSAFE = {"fsync": "off", "synchronous_commit": "off", "full_page_writes": "off"}


class Postgres:
    """One cluster below `folder`. `durable=False` (tests) gives up safety against power cuts for speed."""

    def __init__(self, folder: Path, passwords: dict[str, str], *, durable: bool = True) -> None:
        self._folder, self._data, self.log = folder, folder / "postgres", folder / "postgres.log"
        self._passwords = {SUPERUSER: passwords["superuser"], OWNER: passwords["owner"], APP: passwords["app"]}
        self._durable = durable
        self._process: subprocess.Popen[str] | None = None
        self._programmes = postgres_programmes()
        self._socket = self._socket_folder()

    def start(self) -> None:
        """Start, making the cluster first where there is none, and return when it answers."""
        if not (self._data / "PG_VERSION").exists():
            self._make_cluster()
        deadline = time.monotonic() + 60
        while True:
            self._launch()
            fault = self._wait(deadline)
            if fault is None:
                break
            if "postmaster.pid" not in fault or time.monotonic() > deadline:
                raise Unusable(f"PostgreSQL did not start. Its log ({self.log}) ends:\n{fault}")
            time.sleep(0.3)  # a server whose parent was killed a moment ago is still shutting down
        self._make_roles()

    @property
    def process(self) -> subprocess.Popen[str] | None:
        """The server process, for whoever watches it."""
        return self._process

    def stop(self) -> None:
        """Stop at once but cleanly: clients are cut off, everything committed is kept."""
        child.stop(self._process, signal.SIGINT, 15)
        self._process = None

    def url(self, role: str = APP, database: str = DATABASE) -> str:
        """The address of a database for a role."""
        return f"postgresql://{role}:{quote(self._passwords[role])}@/{database}?host={quote(str(self._socket))}"

    def _socket_folder(self) -> Path:
        folder = self._folder / "socket"
        if len(str(folder / ".s.PGSQL.5432")) <= LONGEST_SOCKET - 10:
            folder.mkdir(exist_ok=True)
        else:
            folder = Path(tempfile.mkdtemp(prefix="clinic-"))
        child.give_to_server(folder, 0o700)
        return folder

    def _make_cluster(self) -> None:
        """Run initdb into a folder beside, so that a half-made cluster is never taken for one."""
        partial = self._data.with_name("postgres.new")
        for old in (partial, self._data):
            if old.exists():
                shutil.rmtree(old)
        partial.mkdir(parents=True)
        child.give_to_server(partial, 0o700)
        secret = self._folder / "postgres.first"
        secret.touch(0o600)
        secret.write_text(self._passwords[SUPERUSER])
        child.give_to_server(secret, 0o600)
        command: list[str | Path] = [
            self._programmes / "initdb",
            "-D",
            partial,
            "-U",
            SUPERUSER,
            f"--pwfile={secret}",
            "--encoding=UTF8",
        ]
        command += ["--locale-provider=builtin", "--locale=C.UTF-8", "--auth-local=scram-sha-256", "--auth-host=reject"]
        command += [] if self._durable else ["--no-sync"]
        process = child.start(command, log=self.log, account=child.server_account())
        code = process.wait()
        secret.unlink()
        if code:
            raise Unusable(f"The database cluster could not be made. The log ({self.log}) ends:\n{self._tail()}")
        partial.replace(self._data)

    def _launch(self) -> None:
        options = {
            "listen_addresses": "",
            "unix_socket_directories": str(self._socket),
            "unix_socket_permissions": "0700",
        }
        options |= {"timezone": "UTC", "jit": "off", "shared_buffers": "128MB", "max_connections": "100"}
        options |= {} if self._durable else UNSAFE
        command: list[str | Path] = [self._programmes / "postgres", "-D", self._data]
        command += [word for name, value in options.items() for word in ("-c", f"{name}={value}")]
        self._began = self.log.stat().st_size if self.log.exists() else 0
        self._process = child.start(
            command, log=self.log, at_parents_death=signal.SIGINT, account=child.server_account(), folder=self._data
        )

    def _wait(self, deadline: float) -> str | None:
        """Nothing when the server answers; otherwise the end of its log."""
        while self._process is not None and self._process.poll() is None and time.monotonic() < deadline:
            try:
                psycopg.connect(self.url(SUPERUSER, "postgres"), connect_timeout=5).close()
            except psycopg.OperationalError:
                time.sleep(0.03)
            else:
                return None
        child.stop(self._process, signal.SIGINT, 5)
        return self._tail()

    def _tail(self) -> str:
        with self.log.open(errors="replace") as file:
            file.seek(getattr(self, "_began", 0))
            return "".join(file.readlines()[-12:])

    def _make_roles(self) -> None:
        """Make the two roles and the database where they are missing. Here the owner may make more (bench)."""
        with psycopg.connect(self.url(SUPERUSER, "postgres"), autocommit=True) as connection:
            if connection.execute("SELECT 1 FROM pg_database WHERE datname = %s", [DATABASE]).fetchone():
                return
            with psycopg.connect(self.url(SUPERUSER, "template1")) as template:
                if not template.execute("SELECT 1 FROM pg_roles WHERE rolname = %s", [APP]).fetchone():
                    template.execute((ROOT / "clinic" / "run" / "roles.sql").read_bytes())
                for role, right in ((OWNER, "CREATEDB"), (APP, "NOCREATEDB")):
                    change = sql.SQL("ALTER ROLE {} {} PASSWORD {}")
                    password = sql.Literal(self._passwords[role])
                    template.execute(change.format(sql.Identifier(role), sql.SQL(right), password))
            create = sql.SQL("CREATE DATABASE {} OWNER {}")
            connection.execute(create.format(sql.Identifier(DATABASE), sql.Identifier(OWNER)))

    def tool(self, name: str) -> Path:
        """A client programme of this server's own version, such as `pg_dump`; another version's would refuse."""
        return self._programmes / name


def owned_by_us(folder: Path) -> bool:
    """False for a cluster that was made under another account (by root, say), which cannot be started from here."""
    data = folder / "postgres"
    return child.is_root() or not data.exists() or data.stat().st_uid == os.geteuid()
