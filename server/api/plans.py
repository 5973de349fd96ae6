"""Fair tests: drawn and registered before they start, as a schedule, as rows to print, and as a calendar file."""

from typing import Any
from uuid import UUID

from django.http import HttpResponse
from django.urls import URLPattern, path, reverse
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema
from rest_framework import serializers, status
from rest_framework.response import Response
from rest_framework.views import APIView

from server.accounts import plans
from server.api.authentication import MemberRequest
from server.api.members import StrictSerializer, checked
from server.api.rendering import FormatInAddress
from server.api.schema import refuses
from server.api.wears import WEARER, named_wearer
from server.core.errors import Conflict, NotFound
from server.editions.expecting import document_of_everyone


class PlanSerializer(serializers.Serializer[Any]):
    id = serializers.UUIDField()
    plan = serializers.CharField(source="token", help_text="The token that wears of this plan carry as `plan`.")
    wearer = serializers.UUIDField(source="wearer_id")
    registered_month = serializers.DateField()
    content = serializers.DictField(help_text="Wears in their order with sites, sides, days and fingersticks; no date.")
    rows = serializers.SerializerMethodField(help_text="The same to print, a line for each day with something to do.")

    def get_rows(self, plan: Any) -> list[dict[str, str | int]]:
        return plans.rows_of(plan)


class PlanListSerializer(serializers.Serializer[Any]):
    plans = PlanSerializer(many=True)


class SpotSerializer(StrictSerializer):
    site = serializers.CharField()
    sides = serializers.ListField(child=serializers.CharField(), required=False, help_text="left and right.")


class RestingSerializer(StrictSerializer):
    site = serializers.CharField()
    side = serializers.CharField()
    days_since = serializers.IntegerField(help_text="Since the sensor came off, on the day the test begins. Not kept.")


class PlanRequestSerializer(StrictSerializer):
    """Said in full by the reader that refuses it; here for the description of the API."""

    spots = SpotSerializer(many=True, help_text="Two to six sites, each once.")
    sensor_model = serializers.CharField()
    wears_per_site = serializers.IntegerField(required=False, help_text="1 to 6; 2.")
    pairs_per_wear = serializers.IntegerField(required=False, help_text="8 to 200; as many as help, if left out.")
    daily_cap = serializers.IntegerField(required=False, help_text="Most fingersticks a day, 1 to 10; 5.")
    first_day_pairs = serializers.IntegerField(required=False, help_text="0 to 10; 3.")
    waking_min = serializers.IntegerField(required=False, help_text="Length of the waking day, 480 to 1200; 840.")
    insert_after_waking_min = serializers.IntegerField(required=False, help_text="When a sensor is changed; 60.")
    warm_up_min = serializers.IntegerField(required=False, help_text="Until a new sensor shows readings; 120.")
    design = serializers.ChoiceField(required=False, choices=("blocked", "alternating"))
    resting = RestingSerializer(many=True, required=False, help_text="Spots worn lately.")


class CalendarSerializer(StrictSerializer):
    first_day = serializers.DateField(help_text="The day of the first sensor. Not kept.")
    wakes_at = serializers.TimeField(help_text="Such as 07:00, where the wearer is. Not kept.")


class Plans(APIView):
    @extend_schema(operation_id="plans_list", responses=PlanListSerializer)
    def get(self, request: MemberRequest) -> Response:
        """List the fair tests that you have registered."""
        account = request.user
        return Response(PlanListSerializer({"plans": plans.plans_of(account)}).data)

    @extend_schema(
        operation_id="plan_register",
        parameters=[WEARER],
        request=PlanRequestSerializer,
        responses={201: PlanSerializer},
    )
    @refuses(NotFound, Conflict)
    def post(self, request: MemberRequest) -> Response:
        """Draw a fair test and register it. Asked again in the same month for the same sites, the order is the same."""
        account = request.user
        wearer = named_wearer(account, request.headers.get("Wearer", ""))
        plan = plans.register_plan(account, request.data, wearer=wearer, document=document_of_everyone())
        address = reverse("plan", args=(plan.pk,))
        return Response(PlanSerializer(plan).data, status.HTTP_201_CREATED, headers={"Location": address})


class PlanDetail(APIView):
    @extend_schema(operation_id="plan_read", responses=PlanSerializer)
    def get(self, request: MemberRequest, plan_id: UUID) -> Response:
        """Read one of your plans."""
        account = request.user
        return Response(PlanSerializer(plans.plan_for_owner(plan_id, account=account)).data)

    @extend_schema(operation_id="plan_drop", responses={204: None})
    def delete(self, request: MemberRequest, plan_id: UUID) -> Response:
        """Drop a plan. Wears uploaded with it stay as they are."""
        account = request.user
        plans.drop_plan(plan_id, account=account)
        return Response(status=status.HTTP_204_NO_CONTENT)


class PlanCalendar(APIView):
    content_negotiation_class = FormatInAddress

    @extend_schema(
        operation_id="plan_calendar",
        request=CalendarSerializer,
        responses={(200, "text/calendar"): OpenApiTypes.STR},
        description="The first day and the hour of waking stand in the body and not in the address, since addresses "
        "end up in logs. Events have neutral titles.",
    )
    def post(self, request: MemberRequest, plan_id: UUID) -> HttpResponse:
        """Make a calendar file of a plan (iCalendar, RFC 5545). Nothing of the body is kept."""
        account = request.user
        told = checked(CalendarSerializer, request)
        content = plans.calendar_of(plans.plan_for_owner(plan_id, account=account), **told)
        return HttpResponse(
            content,
            content_type="text/calendar; charset=utf-8",
            headers={"Content-Disposition": 'attachment; filename="plan.ics"', "Cache-Control": "no-store"},
        )


urlpatterns: list[URLPattern] = [
    path("me/plans/", Plans.as_view(), name="plans"),
    path("me/plans/<uuid:plan_id>/", PlanDetail.as_view(), name="plan"),
    path("me/plans/<uuid:plan_id>.ics", PlanCalendar.as_view(), name="plan-calendar"),
]
