"""The Celery application. Settings beginning with CELERY_ are its own; tasks are found in each app's `tasks` module."""

import os

from celery import Celery

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "clinic.settings")

app = Celery("clinic")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks()
