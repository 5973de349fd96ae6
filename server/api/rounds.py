"""Joint rounds of a group: opened by its moderators, joined by its members, each with an order of their own."""

from typing import Any
from uuid import UUID

from django.urls import URLPattern, path
from drf_spectacular.utils import extend_schema
from rest_framework import serializers, status
from rest_framework.response import Response
from rest_framework.views import APIView

from server.api.authentication import MemberRequest
from server.api.members import StrictSerializer, checked
from server.api.schema import refuses
from server.core.errors import Conflict, Forbidden
from server.groups.rounds import join_round, open_round, rounds_for_member
from server.groups.selectors import group_for_member


class OpenSerializer(StrictSerializer):
    sensor_model = serializers.CharField(max_length=60)
    sites = serializers.ListField(child=serializers.CharField(), min_length=2, max_length=2)
    start_month = serializers.DateField(help_text="Any day of the month, this one or one of the next six.")


class RoundSerializer(serializers.Serializer[Any]):
    id = serializers.UUIDField()
    sensor_model = serializers.CharField()
    sites = serializers.ListField(child=serializers.CharField(), help_text="In no order.")
    start_month = serializers.DateField()
    can_be_joined = serializers.BooleanField(help_text="Until the end of its start month.")
    order = serializers.ListField(
        child=serializers.CharField(),
        allow_null=True,
        help_text="Your own; null if you do not take part.",
    )
    plan = serializers.CharField(allow_null=True, help_text="What your records of these wears name as their plan.")


class RoundsSerializer(serializers.Serializer[Any]):
    rounds = RoundSerializer(many=True, help_text="The latest first.")


class Rounds(APIView):
    @extend_schema(operation_id="rounds_list", responses=RoundsSerializer)
    def get(self, request: MemberRequest, slug: str) -> Response:
        """List the joint rounds of a group of yours, with your own order where you take part."""
        group = group_for_member(slug, request.user)
        return Response(RoundsSerializer({"rounds": rounds_for_member(group, account=request.user)}).data)

    @extend_schema(operation_id="round_open", request=OpenSerializer, responses={201: RoundSerializer})
    @refuses(Forbidden, Conflict)
    def post(self, request: MemberRequest, slug: str) -> Response:
        """Open a round of one sensor model at two sites (moderators)."""
        group = group_for_member(slug, request.user)
        opened = open_round(group, by=request.user, **checked(OpenSerializer, request))
        return Response(RoundSerializer(opened).data, status.HTTP_201_CREATED)


class RoundPlace(APIView):
    @extend_schema(operation_id="round_join", request=None, responses=RoundSerializer)
    @refuses(Conflict)
    def put(self, request: MemberRequest, slug: str, round_id: UUID) -> Response:
        """Take part in a round and get your order; asked again, the same one."""
        group = group_for_member(slug, request.user)
        return Response(RoundSerializer(join_round(group, round_id, account=request.user)).data)


urlpatterns: list[URLPattern] = [
    path("groups/<slug:slug>/rounds/", Rounds.as_view(), name="group-rounds"),
    path("groups/<slug:slug>/rounds/<uuid:round_id>/place/", RoundPlace.as_view(), name="group-round-place"),
]
