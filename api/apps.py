"""The same services and selectors behind another door."""

from django.apps import AppConfig


class ApiConfig(AppConfig):
    """The same services and selectors behind another door."""

    name = "api"
