"""For whoever watches the server from outside. Both addresses say nothing about anybody, nor what is wrong: that stands
on the Watch page, for those who may read it."""

from django.contrib.auth.decorators import login_not_required
from django.db import DatabaseError, connection
from django.http import HttpRequest, JsonResponse

from clinic.watch import selectors as watch


@login_not_required
def health(request: HttpRequest) -> JsonResponse:
    """200 while all is well; 503 while the database does not answer or anything that is watched is past its limit."""
    try:
        well = watch.state().well
    except DatabaseError:
        return JsonResponse({"status": "no database"}, status=503)
    return JsonResponse({"status": "ok"}) if well else JsonResponse({"status": "needs attention"}, status=503)


@login_not_required
def live(request: HttpRequest) -> JsonResponse:
    """200 while this process and the database answer: for whatever restarts processes, which mends nothing else."""
    try:
        with connection.cursor() as cursor:
            cursor.execute("SELECT 1")
    except DatabaseError:
        return JsonResponse({"status": "no database"}, status=503)
    return JsonResponse({"status": "ok"})
