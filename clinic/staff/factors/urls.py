"""Addresses of second factors."""

from django.urls import URLPattern, path

from clinic.staff import door_views
from clinic.staff.factors import lead_views, views

_YOURS, _ONE, _STAFF = "your-sign-in/", "your-sign-in/<uuid:factor_id>/", "staff/<uuid:staff_id>/"

urlpatterns: list[URLPattern] = [
    path("sign-in/second/", door_views.second_step_page, name="sign_in_second"),
    path("sign-in/passkey/", door_views.ask_passkey_at_door, name="ask_passkey_at_door"),
    path("sign-in/code-now/", door_views.code_now, name="code_now"),
    path(_YOURS, views.your_sign_in, name="your_sign_in"),
    path(f"{_YOURS}app/add/", views.add_app, name="add_app"),
    path(f"{_YOURS}passkey/add/", views.add_passkey, name="add_passkey"),
    path(f"{_YOURS}passkey/ask/", views.ask_passkey, name="ask_passkey"),
    path(f"{_YOURS}passkey/new/", views.ask_new_passkey, name="ask_new_passkey"),
    path(f"{_YOURS}recovery/", views.recovery_codes, name="recovery_codes"),
    path(f"{_ONE}rename/", views.rename_factor, name="rename_factor"),
    path(f"{_ONE}remove/", views.remove_factor, name="remove_factor"),
    path("identities/", lead_views.identities, name="identities"),
    path(f"{_STAFF}identity/", lead_views.check_identity, name="check_identity"),
    path(f"{_STAFF}factors/<uuid:factor_id>/remove/", lead_views.remove_lost, name="remove_lost_factor"),
]
