"""The scheduler process: Celery's beat wakes tasks by the clock. It keeps no state; running twice does no harm."""

import django

from clinic.celery import app
from clinic.run import deployment


def main() -> None:
    """Wake tasks until told to stop. Everything it wakes is idempotent, so a lost or doubled wake-up costs nothing."""
    django.setup()
    deployment.insist()
    app.Beat(scheduler="celery.beat:Scheduler", loglevel="WARNING", quiet=True).run()


if __name__ == "__main__":
    main()
