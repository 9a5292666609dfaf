"""Addresses of leaving and moving."""

from django.urls import path

from checklists.leaving import views

urlpatterns = [
    path("staff/<uuid:staff_id>/move/", views.move, name="move_staff"),
    path("staff/<uuid:staff_id>/end/", views.end_account, name="end_staff"),
]
