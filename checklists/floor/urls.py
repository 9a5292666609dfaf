"""Addresses of the Floor."""

from django.urls import path

from checklists.floor import views

urlpatterns = [
    path("floor/<uuid:episode_id>/", views.floor, name="floor"),
    path("floor/<uuid:episode_id>/state/", views.state, name="floor_state"),
    path("floor/<uuid:episode_id>/advice/", views.advice, name="floor_advice"),
    path("floor/<uuid:episode_id>/entries/", views.entries, name="floor_entries"),
]
