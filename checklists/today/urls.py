"""The address of Today."""

from django.urls import path

from checklists.today import views

urlpatterns = [path("", views.today, name="today")]
