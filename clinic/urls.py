"""Addresses. The apps are named by string: nothing here imports them."""

from django.urls import URLPattern, URLResolver, include, path

from clinic.web import worker
from clinic.web.health import health, live

urlpatterns: list[URLPattern | URLResolver] = [
    path("health", health, name="health"),
    path("live", live, name="live"),
    path("sw.js", worker.worker, name="worker"),
    path("manifest.webmanifest", worker.manifest, name="manifest"),
    path("no-signal/", worker.no_signal, name="no_signal"),
    path("left/", worker.left_device, name="left_device"),
    path("", include("clinic.watch.urls")),
    path("api/v1/", include("api.urls")),
    path("", include("clinic.staff.urls")),
    path("", include("clinic.staff.tablet.urls")),
    path("", include("clinic.audit.urls")),
    path("", include("clinic.language.urls")),
    path("", include("caseload.urls")),
    path("", include("checklists.urls")),
]

handler400 = "clinic.web.faults.bad_request"
handler403 = "clinic.web.faults.forbidden"
handler404 = "clinic.web.faults.not_found"
handler500 = "clinic.web.faults.broken"
