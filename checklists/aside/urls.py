"""Addresses of what was set aside."""

from django.urls import path

from checklists.aside import views

urlpatterns = [
    path("aside/", views.aside, name="aside"),
    path("aside/held/<uuid:held_id>/release/", views.release, name="release_held"),
    path("aside/held/<uuid:held_id>/turn-away/", views.turn_away, name="turn_away_held"),
    path("aside/refused/<uuid:refused_id>/settle/", views.settle, name="settle_refused"),
]
