"""Addresses of the door and of the staff pages."""

from django.urls import URLPattern, path

from clinic.staff import door_views

urlpatterns: list[URLPattern] = [
    path("sign-in/", door_views.sign_in_page, name="sign_in"),
    path("sign-out/", door_views.sign_out_page, name="sign_out"),
    path("password/", door_views.password_page, name="password"),
    path("kept/put-away/", door_views.put_away, name="put_away"),
]
