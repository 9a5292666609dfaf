"""What the PostgreSQL image runs at its first start, run on a cluster of our own that has no roles yet."""

import os
import subprocess
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import unquote, urlsplit

import psycopg
import pytest

from clinic.run.places import ROOT
from clinic.run.postgres import APP, OWNER, SUPERUSER, Postgres
from tests.servers import open_folder

pytestmark = pytest.mark.slow

PASSWORDS = {"superuser": "s", "owner": 'it\'s "odd" $x', "app": "a"}


class Bare(Postgres):
    """A cluster as it comes from initdb."""

    def _make_roles(self) -> None:
        pass


@pytest.fixture(scope="module")
def cluster() -> Iterator[Bare]:
    with open_folder() as folder:
        server = Bare(folder, PASSWORDS, durable=False)
        server.start()
        _first_start(server)
        yield server
        server.stop()


def _first_start(server: Bare) -> None:
    address = urlsplit(server.url(SUPERUSER, "postgres"))
    surroundings = {
        "PATH": f"{server.tool('psql').parent}:{os.environ['PATH']}",
        "PGHOST": unquote(address.query.removeprefix("host=")),
        "PGUSER": SUPERUSER,
        "PGPASSWORD": PASSWORDS["superuser"],
        "OWNER_PASSWORD": PASSWORDS["owner"],
        "APP_PASSWORD": PASSWORDS["app"],
        "ROLES_SQL": str(Path(ROOT, "clinic/run/roles.sql")),
    }
    script = str(ROOT / "clinic" / "run" / "first-start.sh")
    answer = subprocess.run(["sh", script], env=surroundings, capture_output=True, text=True, check=False, timeout=60)
    assert answer.returncode == 0, answer.stderr


def test_the_owner_makes_tables_and_the_programme_uses_them(cluster: Bare) -> None:
    with psycopg.connect(cluster.url(OWNER), autocommit=True) as owner:
        owner.execute("CREATE EXTENSION btree_gist")
        owner.execute("CREATE TABLE thing (number bigserial PRIMARY KEY)")
    with psycopg.connect(cluster.url(APP), autocommit=True) as programme:
        programme.execute("INSERT INTO thing DEFAULT VALUES")
        assert programme.execute("SELECT number FROM thing").fetchall() == [(1,)]
        for statement in ("TRUNCATE thing", "DROP TABLE thing", "CREATE TABLE other ()", "CREATE ROLE friend"):
            with pytest.raises(psycopg.errors.InsufficientPrivilege):
                programme.execute(statement)
