"""The Celery application. Settings beginning with CELERY_ are its own; tasks are found in each app's `tasks` module.

They are made by `@app.task`, not by `shared_task`: that one takes whichever application the thread in hand made last,
whose tasks need not be `Work` and would act for nobody.
"""

import logging.config
import os
from typing import Any

from celery import Celery
from celery.signals import setup_logging
from django.conf import settings

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "clinic.settings")

app = Celery("clinic", task_cls="clinic.work:Work")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks()


@setup_logging.connect
def _log_as_everywhere(**_: Any) -> None:
    """Celery asks whether somebody else sees to the logs: we do, in worker and scheduler as in the web."""
    logging.config.dictConfig(settings.LOGGING)
