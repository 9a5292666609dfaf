"""Addresses of the day without power."""

from django.urls import path

from checklists.paper import views

urlpatterns = [
    path("paper/", views.of_a_day, name="paper_today"),
    path("people/<uuid:episode_id>/paper/", views.one, name="paper"),
    path("people/<uuid:episode_id>/paper/enter/", views.enter, name="paper_enter"),
]
