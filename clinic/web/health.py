"""For whoever watches the server: is it up, and does the database answer?"""

from django.contrib.auth.decorators import login_not_required
from django.db import DatabaseError, connection
from django.http import HttpRequest, JsonResponse


@login_not_required
def health(request: HttpRequest) -> JsonResponse:
    """200 while the database answers, 503 while it does not. Says nothing about anybody."""
    try:
        with connection.cursor() as cursor:
            cursor.execute("SELECT 1")
    except DatabaseError:
        return JsonResponse({"status": "no database"}, status=503)
    return JsonResponse({"status": "ok"})
