"""What moderators do with the wears given to their group."""

from typing import Any
from uuid import UUID

from django.urls import URLPattern, path
from drf_spectacular.utils import extend_schema
from rest_framework import serializers, status
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from server.api.members import StrictSerializer, checked
from server.curation import selectors, services
from server.groups.selectors import group_for_member


class QueuedSerializer(serializers.Serializer[Any]):
    wear = serializers.UUIDField(source="id")
    findings = serializers.ListField(child=serializers.CharField(), source="remarks")


class QueueSerializer(serializers.Serializer[Any]):
    wears = QueuedSerializer(many=True, help_text="In an order that tells nothing about arrival.")


class FindingSerializer(serializers.Serializer[Any]):
    code = serializers.CharField()
    severity = serializers.CharField()
    seen = serializers.CharField()
    why = serializers.CharField()
    do = serializers.CharField()


class CuratedWearSerializer(serializers.Serializer[Any]):
    wear = serializers.UUIDField(source="wear_id")
    state = serializers.CharField()
    sensor_model = serializers.CharField()
    site = serializers.CharField()
    worn_days = serializers.IntegerField()
    end_reason = serializers.CharField()
    meter_class = serializers.CharField()
    assignment = serializers.CharField()
    n_pairs = serializers.IntegerField()
    n_pairs_by_day = serializers.DictField(child=serializers.IntegerField())
    findings = FindingSerializer(many=True)
    agreement = serializers.DictField()


class DecideSerializer(StrictSerializer):
    action = serializers.ChoiceField(choices=services.ACTIONS)
    code = serializers.CharField(required=False, help_text="The reason, for a wear that is left out.")


class DecisionSerializer(serializers.Serializer[Any]):
    number = serializers.IntegerField()
    wear = serializers.CharField(source="wear_mark")
    action = serializers.CharField()
    code = serializers.CharField()
    moderator = serializers.CharField(source="moderator_mark")
    protocol_version = serializers.IntegerField()
    month = serializers.DateField(source="on_month")
    chain_hash = serializers.CharField()


class RecordSerializer(serializers.Serializer[Any]):
    decisions = DecisionSerializer(many=True)


class Queue(APIView):
    @extend_schema(operation_id="curation_queue", responses=QueueSerializer)
    def get(self, request: Request, slug: str) -> Response:
        """List the wears to decide about (moderators)."""
        group = group_for_member(slug, request.user)
        return Response(QueueSerializer({"wears": selectors.queue_for_moderator(group, account=request.user)}).data)


class QueuedWear(APIView):
    @extend_schema(operation_id="curation_wear", responses=CuratedWearSerializer)
    def get(self, request: Request, slug: str, wear_id: UUID) -> Response:
        """Look at one wear without its owner (moderators)."""
        group = group_for_member(slug, request.user)
        return Response(CuratedWearSerializer(selectors.wear_for_moderator(group, wear_id, account=request.user)).data)


class QueuedWearDecision(APIView):
    @extend_schema(operation_id="curation_decide", request=DecideSerializer, responses={201: DecisionSerializer})
    def post(self, request: Request, slug: str, wear_id: UUID) -> Response:
        """Approve a wear, leave it out for a listed reason, or undo that before it is counted (moderators)."""
        group = group_for_member(slug, request.user)
        asked = checked(DecideSerializer, request)
        decision = services.decide(group, wear_id, action=asked["action"], code=asked.get("code", ""), by=request.user)
        return Response(DecisionSerializer(decision).data, status.HTTP_201_CREATED)


class Record(APIView):
    @extend_schema(operation_id="curation_record", responses=RecordSerializer)
    def get(self, request: Request, slug: str) -> Response:
        """Read every decision taken in the group; each is chained to the one before (moderators)."""
        group = group_for_member(slug, request.user)
        return Response(RecordSerializer({"decisions": selectors.record_of(group, account=request.user)}).data)


urlpatterns: list[URLPattern] = [
    path("groups/<slug:slug>/curation/", Queue.as_view(), name="curation"),
    path("groups/<slug:slug>/curation/<uuid:wear_id>/", QueuedWear.as_view(), name="curation-wear"),
    path(
        "groups/<slug:slug>/curation/<uuid:wear_id>/decision/", QueuedWearDecision.as_view(), name="curation-decision"
    ),
    path("groups/<slug:slug>/record/", Record.as_view(), name="curation-record"),
]
