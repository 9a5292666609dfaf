"""Addresses. The apps are named by string: nothing here imports them."""

from django.urls import URLPattern, URLResolver, path

from clinic.web.health import health

urlpatterns: list[URLPattern | URLResolver] = [
    path("health", health, name="health"),
]
