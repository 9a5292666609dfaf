"""The disk under the record is full: both doors say so, nothing is half done, and all goes on when there is room again.

A small disk in memory is mounted and the contents of entries are moved onto it; a filler takes all the room left.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from pathlib import Path
from uuid import uuid4

import psycopg
import pytest
from django.db import connection
from django.test import Client
from psycopg import sql

from checklists.models import Entry
from clinic.models import TrailRow
from clinic.run import child
from tests.makers import a_therapist, a_token, an_attempt, an_episode, in_through_the_door

pytestmark = [pytest.mark.chaos, pytest.mark.django_db(transaction=True)]


def _mount(folder: Path) -> bool:
    """Whether this machine lets us mount a disk of eight megabytes there."""
    command = ["mount", "-t", "tmpfs", "-o", "size=8m,mode=0777", "tmpfs", str(folder)]
    return (
        shutil.which("mount") is not None and subprocess.run(command, capture_output=True, check=False).returncode == 0
    )


@pytest.fixture
def small_disk(transactional_db: None) -> Iterator[psycopg.Connection]:
    """The contents of entries lie on a disk of eight megabytes, as long as the test lasts."""
    folder = Path(tempfile.mkdtemp(prefix="clinic-disk-"))
    folder.chmod(0o755)
    if not _mount(folder):
        folder.rmdir()
        pytest.skip("a disk can be mounted by root only, and not in every container")
    place = folder / "tablespace"
    place.mkdir()
    child.give_to_server(place, 0o700)
    name = sql.Identifier(f"small_{os.getpid()}")
    url, database = os.environ["TEST_SUPERUSER_URL"], str(connection.settings_dict["NAME"])
    with psycopg.connect(url, dbname=database, autocommit=True) as superuser:
        superuser.execute(sql.SQL("CREATE TABLESPACE {} LOCATION {}").format(name, sql.Literal(str(place))))
        superuser.execute("VACUUM FULL checklists_entrycontent")  # no room left over from rows that are gone
        superuser.execute(sql.SQL("ALTER TABLE checklists_entrycontent SET TABLESPACE {}").format(name))
        superuser.execute(sql.SQL("CREATE TABLE filler (stuff text) TABLESPACE {}").format(name))
        superuser.execute("ALTER TABLE filler ALTER stuff SET STORAGE PLAIN")
        yield superuser
        superuser.execute("DROP TABLE IF EXISTS filler")
        superuser.execute("ALTER TABLE checklists_entrycontent SET TABLESPACE pg_default")
        superuser.execute(sql.SQL("DROP TABLESPACE {}").format(name))
    subprocess.run(["umount", str(folder)], check=True)
    folder.rmdir()


def fill(superuser: psycopg.Connection) -> None:
    """Take all the room: in large pieces, then in small ones, until not a page is left."""
    for size in (400, 40, 1):
        while _filled(superuser, size):
            pass


def _filled(superuser: psycopg.Connection, size: int) -> bool:
    """Whether there was still room for so many pieces."""
    try:
        superuser.execute("INSERT INTO filler SELECT repeat('x', 7000) FROM generate_series(1, %s)", [size])
    except psycopg.errors.DiskFull:
        return False
    return True


def test_a_full_disk_is_said_and_nothing_is_half_done(small_disk: psycopg.Connection) -> None:
    """Neither entry nor trail row of what could not be taken; the same facts are taken when there is room again."""
    therapist = a_therapist()
    episode = an_episode(assigned_to=therapist)
    token = a_token(therapist)
    caller = Client(raise_request_exception=False, headers={"Authorization": f"Token {token}"})
    address, sent = (
        f"/api/v1/episodes/{episode.pk}/entries/",
        {"entries": [an_attempt(note="x" * 3900) for _ in range(40)]},
    )
    fill(small_disk)
    before = (Entry.objects.count(), TrailRow.objects.count())
    answer = caller.post(address, sent, content_type="application/json")
    assert (answer.status_code, answer.json()["code"]) == (503, "unavailable")
    assert (Entry.objects.count(), TrailRow.objects.count()) == before
    small_disk.execute("DROP TABLE filler")
    again = caller.post(address, sent, content_type="application/json").json()["verdicts"]
    assert {one["outcome"] for one in again} == {"accepted"}


def test_a_page_says_so_and_goes_on_by_itself(small_disk: psycopg.Connection) -> None:
    """The page names the record that cannot be reached, not a fault of ours; signing in still works meanwhile."""
    therapist = a_therapist()
    episode = an_episode(assigned_to=therapist)
    browser = Client(raise_request_exception=False)
    fill(small_disk)
    in_through_the_door(browser, therapist)
    assert browser.get(f"/people/{episode.pk}/").status_code == 200
    answers = [
        browser.post(f"/people/{episode.pk}/review/", {"note": "x" * 3900, "entry_id": str(uuid4())}) for _ in range(40)
    ]
    assert 503 in {answer.status_code for answer in answers}
    assert "cannot take anything in" in next(one for one in answers if one.status_code == 503).content.decode()
