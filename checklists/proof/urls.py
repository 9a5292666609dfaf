"""Addresses of proof bundles."""

from django.urls import URLPattern, path

from checklists.proof import views

urlpatterns: list[URLPattern] = [
    path("verify/", views.verify, name="verify"),
    path("proof/", views.proof, name="proof"),
]
