"""The worker process: Celery takes tasks from the broker. Several may run, on one machine or many."""

from typing import Any

import django
from celery.signals import worker_process_init

from clinic.celery import app
from clinic.run import deployment, variables
from clinic.run.lifeline import die_with_parent


def _tie(**_: Any) -> None:
    die_with_parent()


def main() -> None:
    """Work until told to stop; what was begun is finished first."""
    django.setup()
    deployment.insist()
    worker_process_init.connect(_tie)
    concurrency = variables.number("WORKER_PROCESSES", 2)
    app.worker_main(
        ["worker", f"--concurrency={concurrency}", "--loglevel=WARNING", "--without-gossip", "--without-mingle"],
    )


if __name__ == "__main__":
    main()
