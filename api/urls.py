"""Addresses below /api/v1/."""

from django.urls import URLPattern, URLResolver, path
from drf_spectacular.views import SpectacularAPIView

from api import devices, hands, load, people, plan, referrals, requests, reviews, staff, tokens, visits

_EPISODE = "episodes/<uuid:episode_id>/"

urlpatterns: list[URLPattern | URLResolver] = [
    path("schema/", SpectacularAPIView.as_view(), name="api-schema"),
    path("tokens/", tokens.Tokens.as_view()),
    path("tokens/current/", tokens.TokenInUse.as_view()),
    path("people/", people.People.as_view()),
    path("people/<uuid:person_id>/", people.OnePerson.as_view()),
    path("people/<uuid:person_id>/weights/", people.Weights.as_view()),
    path("referrals/", referrals.Referrals.as_view()),
    path("referrals/<uuid:referral_id>/", referrals.OneReferral.as_view()),
    path("referrals/<uuid:referral_id>/end/", referrals.ReferralEnd.as_view()),
    path(_EPISODE + "plan/", plan.PlanOfEpisode.as_view()),
    path(_EPISODE + "pauses/", plan.Pauses.as_view()),
    path(_EPISODE + "resumption/", plan.Resumption.as_view()),
    path(_EPISODE + "transfer/", plan.Transfers.as_view()),
    path(_EPISODE + "hands/", hands.HandsOfEpisode.as_view()),
    path(_EPISODE + "assignments/", hands.Assignments.as_view()),
    path(_EPISODE + "reassignment/", hands.Reassignment.as_view()),
    path(_EPISODE + "visits/", visits.VisitsOfEpisode.as_view()),
    path(_EPISODE + "planned-reviews/", reviews.ReviewsOfEpisode.as_view()),
    path(_EPISODE + "requests/", requests.RequestsOfEpisode.as_view()),
    path(_EPISODE + "devices/", devices.DevicesOfEpisode.as_view()),
    path("assignments/<uuid:assignment_id>/end/", hands.AssignmentEnd.as_view()),
    path("covers/", hands.Covers.as_view()),
    path("covers/<uuid:cover_id>/end/", hands.CoverEnd.as_view()),
    path("visits/", visits.Visits.as_view()),
    path("visits/<uuid:visit_id>/state/", visits.VisitState.as_view()),
    path("planned-reviews/", reviews.Reviews.as_view()),
    path("planned-reviews/<uuid:review_id>/put-off/", reviews.ReviewPutOff.as_view()),
    path("planned-reviews/<uuid:review_id>/cancel/", reviews.ReviewCancel.as_view()),
    path("requests/", requests.Requests.as_view()),
    path("requests/<uuid:request_id>/", requests.OneRequest.as_view()),
    path("requests/<uuid:request_id>/seen/", requests.RequestSeen.as_view()),
    path("requests/<uuid:request_id>/declined/", requests.RequestDeclined.as_view()),
    path("devices/<uuid:prosthesis_id>/", devices.OneDevice.as_view()),
    path("devices/<uuid:prosthesis_id>/parts/", devices.Parts.as_view()),
    path("devices/<uuid:prosthesis_id>/parts/<uuid:component_id>/removed/", devices.PartRemoved.as_view()),
    path("loads/", load.Loads.as_view()),
    path("load-weights/", load.LoadWeights.as_view()),
    path("staff/", staff.StaffMembers.as_view()),
    path("staff/<uuid:staff_id>/", staff.OneStaff.as_view()),
    path("staff/<uuid:staff_id>/handover/", plan.Handover.as_view()),
    path("staff/<uuid:staff_id>/end/", staff.StaffEnd.as_view()),
    path("staff/<uuid:staff_id>/password/", staff.PasswordGiven.as_view()),
    path("staff/<uuid:staff_id>/roles/", staff.Roles.as_view()),
    path("staff/<uuid:staff_id>/registrations/", staff.Registrations.as_view()),
    path("staff/<uuid:staff_id>/authorisations/", staff.Authorisations.as_view()),
    path("roles/<uuid:term_id>/end/", staff.RoleEnd.as_view()),
    path("authorisations/<uuid:authorisation_id>/withdrawn/", staff.AuthorisationWithdrawn.as_view()),
    path("sites/", staff.Sites.as_view()),
]
