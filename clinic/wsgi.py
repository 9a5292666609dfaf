"""The door that the web server knocks at."""

import os

from django.core.wsgi import get_wsgi_application

from clinic.access import standing
from clinic.run.lifeline import die_with_parent

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "clinic.settings")

standing.process_stands_as(standing.NOBODY)
die_with_parent()  # the web server's own children end with it, however it ends
application = get_wsgi_application()
