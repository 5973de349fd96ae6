"""Before a wear is given or a group is founded: what could be learned, and how likely a group shows rows."""

from dataclasses import asdict
from typing import Any
from uuid import UUID

from django.urls import URLPattern, path
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import serializers
from rest_framework.response import Response
from rest_framework.views import APIView

from server.api.authentication import MemberRequest
from server.api.members import StrictSerializer, checked
from server.api.schema import refuses
from server.core.errors import Conflict, TooMany
from server.editions.selectors import has_published
from server.editions.slots import date_of, next_to_seal
from server.groups.odds import odds_for
from server.wears.disclosures import disclosure_for_owner

GROUP = OpenApiParameter(
    "group", str, OpenApiParameter.QUERY, required=True, description="The short name of the group it might be given to."
)


class OutcomeSerializer(serializers.Serializer[Any]):
    family = serializers.CharField()
    says = serializers.CharField()


class StepSerializer(serializers.Serializer[Any]):
    whose = serializers.ChoiceField(choices=("group", "everyone"))
    place = serializers.CharField()
    sensor_model = serializers.CharField(allow_null=True, help_text="null: any")
    after_editions = serializers.IntegerField(help_text="Edition dates without company before this is tried.")
    fewest_people = serializers.DictField(child=serializers.IntegerField(), help_text="By kind of figures.")
    says = serializers.CharField()


class OnlookerSerializer(serializers.Serializer[Any]):
    who = serializers.CharField()
    sees = serializers.CharField()


class StaysSerializer(serializers.Serializer[Any]):
    while_waiting = serializers.CharField()
    once_counted = serializers.CharField()
    fewest_editions = serializers.IntegerField()
    most_editions = serializers.IntegerField()
    until_if_counted_next = serializers.DateField(help_text="When the sums end if it is counted at the next date.")


class DisclosureSerializer(serializers.Serializer[Any]):
    site = serializers.CharField()
    sensor_model = serializers.CharField()
    outcomes = OutcomeSerializer(many=True, help_text="What the wear says something about.")
    steps = StepSerializer(many=True, help_text="How it may come to be counted, in the order tried.")
    onlookers = OnlookerSerializer(many=True, help_text="Who sees what.")
    stays = StaysSerializer(help_text="What is left after taking back, and until when at the latest.")
    small_group = serializers.CharField(allow_null=True, help_text="A warning, for a group of fewer than 25.")


class WearDisclosure(APIView):
    @extend_schema(operation_id="wear_disclosure", parameters=[GROUP], responses=DisclosureSerializer)
    @refuses(Conflict)
    def get(self, request: MemberRequest, wear_id: UUID) -> Response:
        """Read what anybody could learn about you if you gave this wear to a group. Nothing is given by asking."""
        slug = request.query_params.get("group", "")
        told = asdict(
            disclosure_for_owner(
                wear_id, account=request.user, slug=slug, next_slot=next_to_seal(), has_published=has_published(slug)
            )
        )
        told["stays"]["until_if_counted_next"] = date_of(told["stays"].pop("until_slot_if_counted_next"))
        return Response(DisclosureSerializer(told).data)


class TypedSerializer(StrictSerializer):
    members = serializers.IntegerField()
    wears_a_month = serializers.IntegerField(help_text="Of the whole group.")
    sites = serializers.IntegerField(help_text="How many body sites are worn in the group at all.")
    sites_a_member = serializers.IntegerField(required=False, help_text="To how many one member keeps; 2.")
    sensor_models = serializers.IntegerField(required=False, help_text="1")
    k = serializers.IntegerField(required=False, help_text="Fewest people behind any figure; 5.")
    months = serializers.IntegerField(required=False, help_text="After how many months; 12.")


class OddsSerializer(serializers.Serializer[Any]):
    any_site_row_pct = serializers.IntegerField(help_text="Invented groups that show a row of some site.")
    given_site_row_pct = serializers.IntegerField(help_text="How often one of the worn sites has a row.")
    still_waiting_pct = serializers.IntegerField(help_text="Wears that are in no figure yet.")
    n_runs = serializers.IntegerField(help_text="How many groups were played through.")
    assumed = serializers.ListField(child=serializers.CharField())


class GroupOdds(APIView):
    @extend_schema(operation_id="group_odds", request=TypedSerializer, responses=OddsSerializer)
    @refuses(TooMany)
    def post(self, request: MemberRequest) -> Response:
        """Work out how likely a group shows rows of its own, from numbers that you type and nothing else."""
        return Response(OddsSerializer(odds_for(account=request.user, **checked(TypedSerializer, request))).data)


urlpatterns: list[URLPattern] = [
    path("wears/<uuid:wear_id>/disclosure/", WearDisclosure.as_view(), name="wear-disclosure"),
    path("group-odds/", GroupOdds.as_view(), name="group-odds"),
]
