"""Addresses of the trail."""

from django.urls import URLPattern, path

from clinic.audit import views

urlpatterns: list[URLPattern] = [
    path("trail/", views.trail_page, name="trail"),
    path("trail/export/", views.export, name="trail_export"),
]
