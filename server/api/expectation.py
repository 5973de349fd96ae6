"""The own estimate: what you can expect of a new wear, from your own wears and a group's figures together."""

from dataclasses import asdict
from typing import Any

from django.urls import URLPattern, path
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import serializers
from rest_framework.response import Response
from rest_framework.views import APIView

from server.api.authentication import MemberRequest
from server.api.schema import refuses
from server.api.wears import WEARER, named_wearer
from server.core.errors import Invalid
from server.editions.expecting import SITES, expectation_in
from server.wears.own import own_wears

SITE = OpenApiParameter("site", str, OpenApiParameter.QUERY, required=True, enum=SITES)
SENSOR_MODEL = OpenApiParameter("sensor_model", str, OpenApiParameter.QUERY, description="Over all of them without.")


class ExpectedSerializer(serializers.Serializer[Any]):
    value = serializers.FloatField(help_text="This person's average over many wears there.")
    lower = serializers.FloatField(help_text="Lower end of its 95 % interval.")
    upper = serializers.FloatField()
    new_wear_from = serializers.FloatField(help_text="80 of 100 single new wears lie from here")
    new_wear_to = serializers.FloatField(help_text="to here.")


class ShareSerializer(serializers.Serializer[Any]):
    value = serializers.FloatField()
    lower = serializers.FloatField()
    upper = serializers.FloatField()


class OwnShareSerializer(serializers.Serializer[Any]):
    mard = serializers.IntegerField()
    bias = serializers.IntegerField()


class ExpectationSerializer(serializers.Serializer[Any]):
    edition = serializers.IntegerField(allow_null=True, help_text="Null while published studies stand in.")
    basis = serializers.ChoiceField(choices=("edition", "starter"))
    site = serializers.CharField()
    label = serializers.CharField()  # type: ignore[assignment]
    sensor_model = serializers.CharField(allow_null=True)
    licensed = serializers.BooleanField(allow_null=True, help_text="Null where the edition does not say.")
    told_of = serializers.CharField(help_text="Whose figures stand for the pool's part.")
    n_own_wears = serializers.IntegerField()
    n_own_wears_here = serializers.IntegerField()
    n_left_out = serializers.IntegerField(help_text="Own wears that cannot be used; a note says why.")
    mard_pct = ExpectedSerializer()
    bias_pct = ExpectedSerializer()
    within_15_15_pct = ShareSerializer()
    own_share_pct = OwnShareSerializer(help_text="How much of what was unknown your own wears have settled.")
    says = serializers.ListField(child=serializers.CharField())
    notes = serializers.ListField(child=serializers.CharField())
    sources = serializers.ListField(child=serializers.CharField(), help_text="Of figures from published studies.")


class OwnExpectation(APIView):
    @extend_schema(
        operation_id="own_expectation", parameters=[SITE, SENSOR_MODEL, WEARER], responses=ExpectationSerializer
    )
    @refuses(Invalid)
    def get(self, request: MemberRequest, slug: str) -> Response:
        """Read what you can expect of a new wear at a site."""
        account = request.user
        wearer = named_wearer(account, request.headers.get("Wearer", ""))
        found = expectation_in(
            slug,
            account,
            own_wears(account, wearer),
            site=request.query_params.get("site", ""),
            sensor_model=request.query_params.get("sensor_model"),
        )
        told = asdict(found.expectation) | {"edition": found.edition}
        return Response(ExpectationSerializer(told).data, headers={"Cache-Control": "no-store"})


urlpatterns: list[URLPattern] = [path("groups/<slug:slug>/expectation/", OwnExpectation.as_view(), name="expectation")]
