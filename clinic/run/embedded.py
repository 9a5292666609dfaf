"""For a single command that needs the database where none is given: the running demo's, or one started for it alone."""

import os
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from clinic.run.claim import Claim
from clinic.run.places import Unusable, data_folder
from clinic.run.progress import say
from clinic.run.servers import Servers

PATIENCE = 60.0  # seconds to wait for another single command


@contextmanager
def lent(*, migrated: bool) -> Iterator[None]:
    """Put the addresses of running servers into the environment for the time of the block."""
    folder = data_folder()
    claim = Claim(folder)
    if not claim.take():
        running = claim.running()
        if running is not None:
            os.environ |= running["environment"]
            yield
            return
        say("Another command is using the database; waiting for it.")
        if not claim.wait(PATIENCE):
            raise Unusable(f"The data folder {folder} is still in use by another command. Try again when it has ended.")
    try:
        servers = Servers(folder)
        servers.start()
        try:
            os.environ |= servers.environment() | servers.owner()
            if migrated:
                servers.migrate()
            else:
                servers.forget_migrations()
            yield
        finally:
            servers.stop()
    finally:
        claim.release()


@contextmanager
def of_its_own() -> Iterator[None]:
    """Servers that nobody else uses, whatever addresses were given; they and their data go when the block ends."""
    folder = Path(tempfile.mkdtemp(prefix="clinic-bench-"))
    folder.chmod(0o711)
    servers = Servers(folder)
    try:
        servers.start()
        os.environ |= servers.environment() | servers.owner()
        servers.migrate()
        yield
    finally:
        servers.stop()
        shutil.rmtree(folder, ignore_errors=True)
