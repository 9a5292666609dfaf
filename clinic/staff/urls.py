"""Addresses of the door and of the staff pages."""

from django.urls import URLPattern, path

from clinic.staff import act_views, door_views, views
from clinic.staff.factors.urls import urlpatterns as factors

_ONE = "staff/<uuid:staff_id>/"

urlpatterns: list[URLPattern] = [
    *factors,
    path("sign-in/", door_views.sign_in_page, name="sign_in"),
    path("sign-out/", door_views.sign_out_page, name="sign_out"),
    path("password/", door_views.password_page, name="password"),
    path("kept/put-away/", door_views.put_away, name="put_away"),
    path("staff/", views.staff_list, name="staff"),
    path("staff/add/", act_views.add_staff, name="add_staff"),
    path("staff/sites/add/", act_views.add_site, name="add_site"),
    path(_ONE, views.staff_member, name="staff_member"),
    path(f"{_ONE}edit/", act_views.edit_staff, name="edit_staff"),
    path(f"{_ONE}password/", act_views.give_password, name="give_password"),
    path(f"{_ONE}roles/add/", act_views.grant_role, name="grant_role"),
    path(f"{_ONE}roles/<uuid:term_id>/end/", act_views.end_role, name="end_role"),
    path(f"{_ONE}registrations/add/", act_views.add_registration, name="add_registration"),
    path(f"{_ONE}authorisations/add/", act_views.authorise, name="authorise"),
    path(
        f"{_ONE}authorisations/<uuid:authorisation_id>/withdraw/",
        act_views.withdraw_authorisation,
        name="withdraw_authorisation",
    ),
]
