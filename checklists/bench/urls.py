"""Addresses of the Bench."""

from django.urls import path

from checklists.bench import views

urlpatterns = [
    path("bench/", views.bench, name="bench"),
    path("bench/<uuid:episode_id>/", views.change, name="bench_person"),
    path("bench/<uuid:episode_id>/requests/<uuid:request_id>/", views.change, name="bench_request"),
    path("bench/requests/<uuid:request_id>/see/", views.see, name="see_request"),
    path("bench/requests/<uuid:request_id>/decline/", views.decline, name="decline_request"),
]
