"""Addresses of people and of one person."""

from django.urls import path

from checklists.person import views

urlpatterns = [
    path("people/", views.people, name="people"),
    path("people/<uuid:episode_id>/", views.person, name="person"),
    path("people/<uuid:episode_id>/cleared/", views.cleared, name="cleared"),
]
