"""Addresses of the gym's tablets and of one's own sessions."""

from django.urls import URLPattern, path

from clinic.staff import account_views
from clinic.staff.review.views import review
from clinic.staff.tablet import lead_views, views

urlpatterns: list[URLPattern] = [
    path("tablet/", views.front, name="tablet"),
    path("tablet/enrol/", lead_views.enrol, name="enrol_tablet"),
    path("tablet/hand-over/", views.hand_over, name="hand_over"),
    path("tablet/<uuid:staff_id>/", views.enter, name="enter_pin"),
    path("tablets/add/", lead_views.add_tablet, name="add_tablet"),
    path("tablets/here/", lead_views.enrol_here, name="enrol_here"),
    path("tablets/<uuid:tablet_id>/revoke/", lead_views.revoke_tablet, name="revoke_tablet"),
    path("sessions/", account_views.own_sessions, name="own_sessions"),
    path("sessions/end-others/", account_views.end_other_sessions, name="end_other_sessions"),
    path("sessions/<uuid:session_id>/end/", account_views.end_session, name="end_session"),
    path("pin/", account_views.own_pin, name="own_pin"),
    path("pin/give-up/", account_views.give_up_pin, name="give_up_pin"),
    path("staff/review/", review, name="account_review"),
    path("staff/<uuid:staff_id>/end-sessions/", account_views.end_sessions_of, name="end_sessions_of"),
    path("staff/<uuid:staff_id>/take-pin/", lead_views.take_pin, name="take_pin"),
]
