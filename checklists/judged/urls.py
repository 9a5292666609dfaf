"""Addresses of what was judged differently."""

from django.urls import path

from checklists.judged import views

urlpatterns = [
    path("judged/", views.differences, name="judged"),
    path("judged/<uuid:difference_id>/take/", views.take, name="take_difference"),
]
