"""Addresses of the watch."""

from django.urls import URLPattern, path

from clinic.watch import views

urlpatterns: list[URLPattern] = [
    path("watch/", views.watch, name="watch"),
    path("watch/now/", views.now, name="watch_now"),
    path("watch/alarms/<uuid:alarm_id>/", views.settle_alarm, name="settle_alarm"),
]
