"""What members propose for the catalogue of sensor models."""

from typing import Any

from django.urls import URLPattern, path
from drf_spectacular.utils import extend_schema
from rest_framework import serializers, status
from rest_framework.response import Response
from rest_framework.views import APIView

from server.accounts.proposals import propose_model
from server.api.authentication import MemberRequest
from server.api.members import StrictSerializer, checked
from server.api.schema import refuses
from server.core.errors import Conflict, TooMany


class LicenceSerializer(StrictSerializer):
    site = serializers.CharField(help_text="A site of the vocabulary that the sensor's instructions name.")
    ages = serializers.CharField(help_text="For whom: adult, child or all.")


class ProposalSerializer(StrictSerializer):
    slug = serializers.CharField(
        max_length=24, help_text="A short name of two or three parts, one with a digit, such as demo-a14."
    )
    rated_life_days = serializers.DecimalField(max_digits=4, decimal_places=1)
    licensed_sites: serializers.ListSerializer[Any] = serializers.ListSerializer(
        child=LicenceSerializer(), max_length=20
    )
    algorithm_generation = serializers.IntegerField(required=False, help_text="A new one is a new entry; 1.")


class ProposedSerializer(serializers.Serializer[Any]):
    slug = serializers.CharField()


class Proposals(APIView):
    @extend_schema(operation_id="sensor_model_propose", request=ProposalSerializer, responses={201: ProposedSerializer})
    @refuses(Conflict, TooMany)
    def post(self, request: MemberRequest) -> Response:
        """Propose an entry of the catalogue, from the sensor's own instructions; the operator decides."""
        facts = checked(ProposalSerializer, request)
        licences = facts.pop("licensed_sites")
        facts["licensed"] = {licence["site"]: licence["ages"] for licence in licences}
        if "algorithm_generation" in facts:
            facts["generation"] = facts.pop("algorithm_generation")
        proposal = propose_model(facts.pop("slug"), account=request.user, **facts)
        return Response(ProposedSerializer(proposal).data, status.HTTP_201_CREATED)


urlpatterns: list[URLPattern] = [path("sensor-models/proposals/", Proposals.as_view(), name="proposals")]
