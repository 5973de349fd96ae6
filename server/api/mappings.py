"""What a member confirmed about the columns of their exports, remembered without a word of them."""

from typing import Any
from uuid import UUID

from django.urls import URLPattern, path
from drf_spectacular.utils import extend_schema
from rest_framework import serializers, status
from rest_framework.response import Response
from rest_framework.views import APIView

from server.accounts import selectors, services
from server.api.authentication import MemberRequest
from server.api.schema import refuses
from server.core.errors import Conflict


class RememberedSerializer(serializers.Serializer[Any]):
    id = serializers.UUIDField()
    kind = serializers.CharField(source="content.kind", help_text="sensor, meter or typed")
    roles = serializers.ListField(child=serializers.CharField(), source="content.roles", help_text="One a column.")
    glucose_unit = serializers.CharField(source="content.glucose_unit", allow_null=True)
    date_order = serializers.CharField(source="content.date_order", allow_null=True)
    decimal = serializers.CharField(source="content.decimal")


class RememberedListSerializer(serializers.Serializer[Any]):
    mappings = RememberedSerializer(many=True, help_text="In the order of their random ids.")


class ProposedMappingSerializer(serializers.Serializer[Any]):
    """A mapping as the preview gives it."""

    kind = serializers.CharField()
    header_line = serializers.IntegerField(allow_null=True)
    roles = serializers.ListField(child=serializers.CharField())
    glucose_unit = serializers.CharField(allow_null=True)
    date_order = serializers.CharField(allow_null=True)
    decimal = serializers.CharField()
    time_zone = serializers.CharField(allow_null=True, help_text="Not kept: it says where somebody lives.")
    header_hash_input = serializers.ListField(
        child=serializers.CharField(), help_text="The header words: a keyed mark is made of them, and none is kept."
    )


class Mappings(APIView):
    @extend_schema(operation_id="mappings_read", responses=RememberedListSerializer)
    def get(self, request: MemberRequest) -> Response:
        """List what is remembered about the columns of your exports."""
        return Response(RememberedListSerializer({"mappings": selectors.mappings_of(request.user)}).data)

    @extend_schema(operation_id="mapping_remember", request=ProposedMappingSerializer, responses=RememberedSerializer)
    @refuses(Conflict)
    def put(self, request: MemberRequest) -> Response:
        """Remember a mapping that you have confirmed; the next preview of the same layout proposes it first."""
        return Response(RememberedSerializer(services.remember_mapping(request.user, request.data)).data)

    @extend_schema(operation_id="mappings_forget", responses={204: None})
    def delete(self, request: MemberRequest) -> Response:
        """Forget them all."""
        services.forget_mappings(account=request.user)
        return Response(status=status.HTTP_204_NO_CONTENT)


class Mapping(APIView):
    @extend_schema(operation_id="mapping_forget", responses={204: None})
    def delete(self, request: MemberRequest, mapping_id: UUID) -> Response:
        """Forget one."""
        services.forget_mapping(mapping_id, account=request.user)
        return Response(status=status.HTTP_204_NO_CONTENT)


urlpatterns: list[URLPattern] = [
    path("me/mappings/", Mappings.as_view(), name="mappings"),
    path("me/mappings/<uuid:mapping_id>/", Mapping.as_view(), name="mapping"),
]
