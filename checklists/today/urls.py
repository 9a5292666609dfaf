"""The addresses of Today and of the end of the day."""

from django.urls import path

from checklists.today import views

urlpatterns = [
    path("", views.today, name="today"),
    path("day-end/", views.day_end, name="day_end"),
]
