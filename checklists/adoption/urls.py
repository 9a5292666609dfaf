"""Addresses of the protocol."""

from django.urls import URLPattern, path

from checklists.adoption import views

urlpatterns: list[URLPattern] = [
    path("protocol/", views.protocol, name="protocol"),
]
