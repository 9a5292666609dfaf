"""Addresses of alerts."""

from django.urls import URLPattern, path

from checklists.alerts import views

urlpatterns: list[URLPattern] = [
    path("alerts/", views.alerts, name="alerts"),
    path("alerts/tally/", views.tally, name="alerts_tally"),
    path("alerts/news/read/", views.read_news, name="read_news"),
    path("alerts/<uuid:episode_id>/<uuid:entry>/", views.answer_act, name="answer_alert"),
]
