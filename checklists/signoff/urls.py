"""Addresses of the sign-off."""

from django.urls import path

from checklists.signoff import views

urlpatterns = [
    path("people/<uuid:episode_id>/sign-off/<str:skill>/", views.sign, name="sign_off"),
    path("people/<uuid:episode_id>/sign-off/<str:skill>/withdraw/", views.withdraw, name="withdraw_sign_off"),
]
