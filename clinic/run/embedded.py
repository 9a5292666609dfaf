"""For a single command that needs the database where none is given: the running demo's, or one started for it alone."""

import os
from collections.abc import Iterator
from contextlib import contextmanager

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
