"""Addresses of the marks that wait for their author, and of the list of tablets, which counts them."""

from django.urls import path

from checklists.sealed import views

urlpatterns = [
    path("tablets/", views.tablets, name="tablets"),
    path("waiting/", views.waiting, name="waiting_marks"),
    path("waiting/record/", views.record, name="record_marks"),
    path("waiting/<uuid:mark_id>/drop/", views.drop, name="drop_mark"),
]
