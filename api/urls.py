"""Addresses below /api/v1/."""

from django.urls import URLPattern, URLResolver, path
from drf_spectacular.views import SpectacularAPIView

urlpatterns: list[URLPattern | URLResolver] = [
    path("schema/", SpectacularAPIView.as_view(), name="api-schema"),
]
