"""Sites side by side by what matters to a reader."""

from typing import Any

from django.urls import URLPattern, path
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.permissions import AllowAny
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from server.accounts.selectors import reader_of
from server.api.members import StrictSerializer, checked
from server.api.schema import refuses
from server.core.errors import Gone
from server.editions.weighing import CRITERIA, LARGEST_WEIGHT, N_DRAWS, weigh_sites


class WeightsSerializer(StrictSerializer):
    weights = serializers.DictField(
        child=serializers.FloatField(min_value=0, max_value=LARGEST_WEIGHT),
        help_text=f"How much each of these matters, 0 to {LARGEST_WEIGHT}: {', '.join(CRITERIA)}.",
    )
    sensor_model = serializers.CharField(
        required=False, allow_null=True, max_length=100, help_text="Compare sites for this sensor model alone."
    )
    edition = serializers.IntegerField(required=False, min_value=1, help_text="The newest edition if left out.")


class SiteChanceSerializer(serializers.Serializer[Any]):
    site = serializers.CharField()
    label = serializers.CharField()  # type: ignore[assignment]
    p_best_frac = serializers.FloatField(help_text="How often it serves best among those compared, 0 to 1.")
    p_worst_frac = serializers.FloatField(help_text="How often it serves worst among those compared.")
    place_from = serializers.IntegerField(help_text="Best place in the order that it takes 8 times of 10, 1 first.")
    place_to = serializers.IntegerField(help_text="Worst place in the order that it takes 8 times of 10.")
    figures = serializers.DictField(help_text="The published figures it rests on, by what they are weighed for.")


class LeftOutSerializer(serializers.Serializer[Any]):
    site = serializers.CharField()
    label = serializers.CharField()  # type: ignore[assignment]
    not_told = serializers.ListField(child=serializers.CharField(), help_text="What the edition does not tell of it.")


class ChoiceSerializer(serializers.Serializer[Any]):
    edition = serializers.IntegerField(source="number")
    sha256 = serializers.CharField(help_text="Identity of the edition that the answer rests on.")
    sensor_model = serializers.CharField(source="choice.sensor_model", allow_null=True)
    weights = serializers.DictField(source="choice.weights", help_text="As used: they add up to 1.")
    scales = serializers.DictField(source="choice.scales", help_text="The differences that equal weights count alike.")
    sites = SiteChanceSerializer(source="choice.sites", many=True, help_text="The likeliest to serve best first.")
    left_out = LeftOutSerializer(source="choice.left_out", many=True)
    notes = serializers.ListField(source="choice.notes", child=serializers.CharField())


class SiteChoice(APIView):
    permission_classes = (AllowAny,)

    @extend_schema(
        operation_id="site_choice",
        request=WeightsSerializer,
        responses=ChoiceSerializer,
        description="Weigh the sites of an edition by what matters to you. Nothing of the weights is stored. "
        f"{N_DRAWS:,} draws from the published figures; the same edition and weights get the same answer.",
    )
    @refuses(Gone)
    def post(self, request: Request, slug: str) -> Response:
        """Weigh the sites of an edition by what matters to you."""
        told = checked(WeightsSerializer, request)
        weighed = weigh_sites(
            slug,
            told["weights"],
            reader_of(request.user),
            number=told.get("edition", "latest"),
            sensor_model=told.get("sensor_model"),
        )
        return Response(ChoiceSerializer(weighed).data, headers={"Cache-Control": "no-store"})


urlpatterns: list[URLPattern] = [path("groups/<slug:slug>/choice/", SiteChoice.as_view(), name="choice")]
