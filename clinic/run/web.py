"""The web process: Granian in front of `clinic.wsgi`, threads that keep their database connections."""

import logging
import os

from granian import Granian
from granian.constants import Interfaces

from clinic.run import deployment, variables

DISCREET = {"()": "clinic.logs.Discreet"}


def main() -> None:
    """Serve until told to stop. Worker processes that die are replaced."""
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "clinic.settings")
    deployment.insist()
    logging.basicConfig(level=logging.WARNING)
    Granian(
        "clinic.wsgi:application",
        interface=Interfaces.WSGI,
        address=variables.text("WEB_HOST", "127.0.0.1"),
        port=variables.number("WEB_PORT", 8000),
        workers=variables.number("WEB_WORKERS", 2),
        blocking_threads=variables.number("WEB_THREADS", 4),
        blocking_threads_idle_timeout=600,
        respawn_failed_workers=True,
        workers_kill_timeout=5,
        websockets=False,
        log_dictconfig={"formatters": {"generic": DISCREET, "access": DISCREET}},
    ).serve()


if __name__ == "__main__":
    main()
