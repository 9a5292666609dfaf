"""Addresses of keeping and giving out."""

from django.urls import path

from checklists.keeping import asking_views, striking_views, views

urlpatterns = [
    path("keeping/", views.keeping, name="keeping"),
    path("keeping/sites/<uuid:site_id>/", views.retention, name="set_retention"),
    path("keeping/people/<uuid:person_id>/", views.person, name="keeping_person"),
    path("keeping/people/<uuid:person_id>/hold/", views.place_hold, name="place_hold"),
    path("keeping/holds/<uuid:hold_id>/lift/", views.lift_hold, name="lift_hold"),
    path("keeping/people/<uuid:person_id>/archive/", views.ask_archive, name="ask_archive"),
    path("keeping/archives/<uuid:archive_id>/", views.archive, name="archive"),
    path("keeping/archives/<uuid:archive_id>/now/", views.archive_now, name="archive_now"),
    path("keeping/archives/<uuid:archive_id>/taken/", views.take_archive, name="take_archive"),
    path("keeping/people/<uuid:person_id>/erasure/", asking_views.ask_erasure, name="ask_erasure"),
    path("keeping/erasures/<uuid:erasure_id>/", asking_views.confirm_erasure, name="confirm_erasure"),
    path("keeping/erasures/<uuid:erasure_id>/down/", asking_views.turn_down_erasure, name="turn_down_erasure"),
    path("people/<uuid:episode_id>/strike-out/", striking_views.strike, name="strike_out"),
    path("people/<uuid:episode_id>/corrections/", asking_views.ask_correction, name="ask_correction"),
    path(
        "people/<uuid:episode_id>/corrections/<uuid:correction_id>/",
        asking_views.answer_correction,
        name="answer_correction",
    ),
]
