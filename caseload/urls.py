"""The addresses of this app's pages. `episode_id` is how a person is named in an address, here as everywhere."""

from django.urls import URLPattern, URLResolver, include, path

from caseload.assignment import views as assignment
from caseload.emergency import views as emergency
from caseload.episode import views as episode
from caseload.load import views as load
from caseload.looked import views as looked
from caseload.person import views as person
from caseload.prosthesis import views as prosthesis
from caseload.referral import views as referral
from caseload.request import views as request
from caseload.review import views as review
from caseload.visit import views as visit

_of_one_person: list[URLPattern | URLResolver] = [
    path("", episode.page, name="plan"),
    path("person/", person.edit, name="plan_person"),
    path("weight/", person.weight, name="plan_weight"),
    path("visits/", visit.plan_page, name="plan_visits"),
    path("visits/<uuid:visit_id>/", visit.state, name="visit_state"),
    path("reviews/", review.plan_page, name="plan_review"),
    path("reviews/<uuid:review_id>/put-off/", review.put_off, name="put_off_review"),
    path("reviews/<uuid:review_id>/strike-out/", review.cancel, name="cancel_review"),
    path("requests/", request.ask, name="ask_adjustment"),
    path("requests/<uuid:request_id>/", request.reword, name="reword_request"),
    path("pause/", episode.pause, name="pause_episode"),
    path("resume/", episode.resume, name="resume_episode"),
    path("move/", episode.transfer, name="transfer_episode"),
    path("reassign/", assignment.reassign_page, name="reassign"),
    path("cover/", assignment.cover_page, name="cover"),
    path("cover/<uuid:cover_id>/end/", assignment.end_cover_page, name="end_cover"),
    path("devices/", prosthesis.register, name="register_prosthesis"),
    path("devices/<uuid:prosthesis_id>/", prosthesis.edit, name="edit_prosthesis"),
    path("devices/<uuid:prosthesis_id>/parts/", prosthesis.fit_part, name="fit_component"),
    path("devices/<uuid:prosthesis_id>/parts/<uuid:part_id>/", prosthesis.remove_part, name="remove_component"),
    path(
        "devices/<uuid:prosthesis_id>/parts/<uuid:part_id>/correct/",
        prosthesis.correct_part,
        name="correct_component",
    ),
]

urlpatterns: list[URLPattern | URLResolver] = [
    path("people/<uuid:episode_id>/plan/", include(_of_one_person)),
    path("caseload/referrals/", referral.take, name="take_referral"),
    path("caseload/referrals/known/", referral.known, name="known_people"),
    path("caseload/referrals/<uuid:referral_id>/change/", referral.change, name="change_referral"),
    path("caseload/referrals/<uuid:referral_id>/end/", referral.end, name="end_referral"),
    path("caseload/cover/", assignment.leave_page, name="cover_leave"),
    path("caseload/cover/<uuid:staff_id>/end/", assignment.end_leave_page, name="end_cover_leave"),
    path("emergency/", emergency.emergency, name="emergency"),
    path("emergency/all/", emergency.emergencies, name="emergencies"),
    path("emergency/<uuid:emergency_id>/", emergency.judge, name="judge_emergency"),
    path("trail/person/", looked.looks, name="looks"),
    path("caseload/weights/", load.weights_page, name="load_weights"),
]
