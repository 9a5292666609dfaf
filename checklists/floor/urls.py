"""Addresses of the Floor."""

from django.urls import path

from checklists.floor import views

urlpatterns = [
    path("floor/<uuid:episode_id>/", views.floor, name="floor"),
    path("floor/<uuid:episode_id>/taken-over/", views.taken_over, name="floor_taken_over"),
    path("floor/<uuid:episode_id>/state/", views.state, name="floor_state"),
    path("floor/<uuid:episode_id>/others/", views.others, name="floor_others"),
    path("floor/<uuid:episode_id>/move/", views.move, name="floor_move"),
]
