"""Addresses. The apps are named by string: nothing here imports them."""

from django.urls import URLPattern, URLResolver, include, path

from clinic.web.health import health

urlpatterns: list[URLPattern | URLResolver] = [
    path("health", health, name="health"),
    path("api/v1/", include("api.urls")),
    path("", include("caseload.urls")),
    path("", include("checklists.urls")),
]
