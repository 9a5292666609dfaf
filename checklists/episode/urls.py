"""Addresses of reviews and of the discharge."""

from django.urls import path

from checklists.episode import views

urlpatterns = [
    path("people/<uuid:episode_id>/review/", views.review, name="record_review"),
    path("people/<uuid:episode_id>/discharge/", views.discharge, name="discharge"),
]
