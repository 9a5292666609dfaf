"""Staff: who works here, as what, and what their papers allow."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from drf_spectacular.utils import extend_schema, inline_serializer
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from api.endpoint import IF_MATCH, Endpoint
from api.referrals import Why
from api.shapes import Nothing, PageQuery, Written, page_of, shape
from checklists.leaving.services import end_staff
from clinic.access import Action
from clinic.staff.grants import add_registration, authorise, end_role, grant_role, withdraw_authorisation
from clinic.staff.roles import KneeFeature, Role
from clinic.staff.selectors import StaffRow, sites, staff_list, staff_page
from clinic.staff.services import add_site, add_staff, edit_staff, give_password


class StaffQuery(PageQuery):
    """Which of the staff."""

    role = serializers.ChoiceField(choices=Role.choices, required=False)
    former = serializers.BooleanField(default=False)


class NewStaff(serializers.Serializer[dict[str, Any]]):
    """Somebody who is taken on."""

    name = serializers.CharField(max_length=120)
    username = serializers.CharField(max_length=60)
    email = serializers.EmailField(allow_blank=True)
    site_id = serializers.UUIDField()
    roles = serializers.ListField(child=serializers.ChoiceField(choices=Role.choices), min_length=1, max_length=5)
    minutes_per_week = serializers.IntegerField(min_value=0, max_value=10080, default=0)


class EditedStaff(serializers.Serializer[dict[str, Any]]):
    """What can change."""

    name = serializers.CharField(max_length=120)
    email = serializers.EmailField(allow_blank=True)
    site_id = serializers.UUIDField()
    minutes_per_week = serializers.IntegerField(min_value=0, max_value=10080)


class TakenOn(serializers.Serializer[dict[str, Any]]):
    """Their id, and the password to hand over, told this once."""

    id = serializers.UUIDField()
    version = serializers.IntegerField()
    password = serializers.CharField()


class RoleDays(serializers.Serializer[dict[str, Any]]):
    """A role, and the days on which it is held, both included."""

    role = serializers.ChoiceField(choices=Role.choices)
    starts_on = serializers.DateField()
    ends_on = serializers.DateField(required=False, allow_null=True)


class LastDay(serializers.Serializer[dict[str, Any]]):
    """The last day on which something holds."""

    last_day = serializers.DateField()


class Registered(serializers.Serializer[dict[str, Any]]):
    """A professional registration."""

    number = serializers.CharField(max_length=40)
    starts_on = serializers.DateField()
    expires_on = serializers.DateField()


class FeatureDays(serializers.Serializer[dict[str, Any]]):
    """A knee feature, and the days on which somebody may work with it."""

    feature = serializers.ChoiceField(choices=KneeFeature.choices)
    starts_on = serializers.DateField()
    expires_on = serializers.DateField()


class NewSite(serializers.Serializer[dict[str, Any]]):
    """A place where the clinic sees people."""

    name = serializers.CharField(max_length=80)
    time_zone = serializers.CharField(max_length=40, help_text="IANA name")


class SiteShape(serializers.Serializer[Any]):
    """A site, and how many of the staff work there."""

    id = serializers.UUIDField()
    name = serializers.CharField()
    time_zone = serializers.CharField()
    people = serializers.IntegerField()


def site_page() -> serializers.Serializer[Any]:
    """A page of sites."""
    made: serializers.Serializer[Any] = inline_serializer(
        "SitePage", {"items": SiteShape(many=True), "next": serializers.CharField(allow_null=True)}
    )
    return made


class Made(serializers.Serializer[dict[str, Any]]):
    """What was made."""

    id = serializers.UUIDField()


class StaffMembers(Endpoint):
    """The staff."""

    @extend_schema(parameters=[StaffQuery], responses=page_of(StaffRow))
    def get(self, request: Request) -> Response:
        """By name, with their papers."""
        self.permit(Action.SEE_STAFF)
        wanted = self.asked(StaffQuery)
        which = {"role": wanted.get("role", ""), "former": wanted["former"]}
        return self.listed(staff_list(self.actor, at=self.at, **which), lambda row: row.id)

    @extend_schema(request=NewStaff, responses={201: TakenOn})
    def post(self, request: Request) -> Response:
        """Take somebody on."""
        taken = add_staff(actor=self.actor, **self.sent(NewStaff))
        made = {"id": taken.staff.pk, "version": taken.staff.version, "password": taken.password}
        return Response(made, status=201)


class OneStaff(Endpoint):
    """One member of staff."""

    @extend_schema(responses=shape(StaffRow))
    def get(self, request: Request, staff_id: UUID) -> Response:
        """Their line of the list."""
        found = staff_page(self.actor, staff_id, at=self.at)
        return self.one(found.row, version=found.staff.version)

    @extend_schema(request=EditedStaff, responses=shape(Written), parameters=[IF_MATCH])
    def put(self, request: Request, staff_id: UUID) -> Response:
        """Change what is known of them."""
        version = self.seen_version()
        return self.written(edit_staff(actor=self.actor, staff_id=staff_id, version=version, **self.sent(EditedStaff)))


class TakesOver(serializers.Serializer[dict[str, Any]]):
    """One person, and the colleague who takes them over."""

    episode_id = serializers.UUIDField()
    to = serializers.UUIDField()


class Ended(Why):
    """Why, and who takes over: one colleague for all, others for single people, or nobody yet."""

    to = serializers.UUIDField(required=False, allow_null=True)
    each = serializers.ListField(child=TakesOver(), required=False, max_length=1000)
    nobody = serializers.BooleanField(default=False)


class StaffEnd(Endpoint):
    """Closing an account."""

    @extend_schema(request=Ended, responses=shape(Written))
    def post(self, request: Request, staff_id: UUID) -> Response:
        """They can do nothing any more; what they did stays theirs. 409 names whoever is in their hands still."""
        said = self.sent(Ended)
        each = {one["episode_id"]: one["to"] for one in said.pop("each", [])}
        return self.written(end_staff(actor=self.actor, staff_id=staff_id, each=each, **said))


class PasswordGiven(Endpoint):
    """A new password to hand over."""

    @extend_schema(request=Nothing, responses={201: TakenOn})
    def post(self, request: Request, staff_id: UUID) -> Response:
        """Good for three days, to be changed at once."""
        taken = give_password(actor=self.actor, staff_id=staff_id)
        made = {"id": taken.staff.pk, "version": taken.staff.version, "password": taken.password}
        return Response(made, status=201)


class Roles(Endpoint):
    """Roles of somebody."""

    @extend_schema(request=RoleDays, responses={201: Made})
    def post(self, request: Request, staff_id: UUID) -> Response:
        """Give a role."""
        term = grant_role(actor=self.actor, staff_id=staff_id, **self.sent(RoleDays))
        return Response({"id": term.pk}, status=201)


class RoleEnd(Endpoint):
    """The end of a role."""

    @extend_schema(request=LastDay, responses={204: None})
    def post(self, request: Request, term_id: UUID) -> Response:
        """End it after a day."""
        end_role(actor=self.actor, term_id=term_id, **self.sent(LastDay))
        return Response(status=204)


class Registrations(Endpoint):
    """Professional registrations of somebody."""

    @extend_schema(request=Registered, responses={201: Made})
    def post(self, request: Request, staff_id: UUID) -> Response:
        """Write one down."""
        paper = add_registration(actor=self.actor, staff_id=staff_id, **self.sent(Registered))
        return Response({"id": paper.pk}, status=201)


class Authorisations(Endpoint):
    """What somebody may do with a knee feature."""

    @extend_schema(request=FeatureDays, responses={201: Made})
    def post(self, request: Request, staff_id: UUID) -> Response:
        """Authorise."""
        paper = authorise(actor=self.actor, staff_id=staff_id, **self.sent(FeatureDays))
        return Response({"id": paper.pk}, status=201)


class AuthorisationWithdrawn(Endpoint):
    """Taking an authorisation back."""

    @extend_schema(request=Why, responses={204: None})
    def post(self, request: Request, authorisation_id: UUID) -> Response:
        """At once, with the reason."""
        withdraw_authorisation(actor=self.actor, authorisation_id=authorisation_id, **self.sent(Why))
        return Response(status=204)


class Sites(Endpoint):
    """The places where the clinic sees people."""

    @extend_schema(parameters=[PageQuery], responses=site_page())
    def get(self, request: Request) -> Response:
        """By name."""
        rows: list[Any] = list(SiteShape(sites(self.actor, at=self.at), many=True).data)
        return self.listed(rows, lambda row: row["id"])

    @extend_schema(request=NewSite, responses={201: Made})
    def post(self, request: Request) -> Response:
        """Open one."""
        return Response({"id": add_site(actor=self.actor, **self.sent(NewSite)).pk}, status=201)
