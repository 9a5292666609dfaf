"""Addresses of the lead's Caseload page."""

from django.urls import path

from checklists.lead import views

urlpatterns = [
    path("caseload/", views.caseload, name="caseload"),
    path("caseload/handover/", views.handover, name="my_handover"),
    path("caseload/handover/<uuid:staff_id>/", views.handover, name="handover"),
    path("caseload/referrals/<uuid:referral_id>/assign/", views.assign, name="assign"),
]
