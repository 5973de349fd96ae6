"""Editions of other servers beside a group's own: handed in as signed packages, never fetched, never added up."""

from typing import Any
from uuid import UUID

from django.urls import URLPattern, path, reverse
from drf_spectacular.utils import extend_schema
from rest_framework import serializers, status
from rest_framework.permissions import IsAuthenticatedOrReadOnly
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from server.accounts.selectors import reader_of
from server.accounts.throttles import count_try
from server.api.authentication import MemberRequest
from server.api.parsing import FilesParser, parts_of
from server.api.schema import refuses
from server.core.errors import Conflict, Fault, Forbidden, Invalid, TooMany
from server.editions import neighbours
from server.groups.selectors import group_for_reader

TEXTS = ("address", "public_key", "sha256")
NEEDED = ("address", "package", "public_key")


class NeighbourSerializer(serializers.Serializer[neighbours.NeighbourView]):
    id = serializers.UUIDField()
    ours = serializers.BooleanField(help_text="Always false: another server made it, by its own rules.")
    address = serializers.CharField(help_text="Where it is said to come from; this server never asks there.")
    public_key = serializers.CharField(help_text="The key whose signature it bears.")
    sha256 = serializers.CharField()
    group = serializers.CharField()
    number = serializers.IntegerField()
    cut_off = serializers.CharField()
    its_caution = serializers.CharField(help_text="The caution that it came with.")


class WholeNeighbourSerializer(NeighbourSerializer):
    document = serializers.DictField(help_text="The other server's edition, as it was signed.")


class NeighboursSerializer(serializers.Serializer[Any]):
    neighbours = NeighbourSerializer(many=True)


class NewNeighbourSerializer(serializers.Serializer[Any]):
    refuses_unknown = True

    package = serializers.FileField(help_text="The package of the edition, as the other server gave it out.")
    address = serializers.CharField(help_text="The https:// address of the edition.")
    public_key = serializers.CharField(help_text="From the other server's /api/v1/signing-key/.")
    sha256 = serializers.CharField(required=False, help_text="The digest that the document must have.")


class BesideView(APIView):
    """Read by whoever may read the group; changed by its moderators."""

    permission_classes = (IsAuthenticatedOrReadOnly,)


class NeighbourList(BesideView):
    parser_classes = (FilesParser,)

    @extend_schema(operation_id="neighbours_list", responses=NeighboursSerializer)
    def get(self, request: Request, slug: str) -> Response:
        """List the editions of other servers that a group shows beside its own."""
        found = neighbours.neighbours_of(slug, reader_of(request.user))
        return Response(NeighboursSerializer({"neighbours": found}).data)

    @extend_schema(
        operation_id="neighbour_add",
        request={"multipart/form-data": NewNeighbourSerializer},
        responses={201: NeighbourSerializer},
    )
    @refuses(Forbidden, Conflict, TooMany)
    def post(self, request: MemberRequest, slug: str) -> Response:
        """Show a signed edition of another server (moderators). Nothing is fetched: hand in its package."""
        group = group_for_reader(slug, request.user)
        neighbours.require_change(group, by=request.user)
        count_try("neighbour", str(request.user.id))
        _refuse_other_parts(request)
        parts = parts_of(request)
        told = {name: str(parts[name]) for name in TEXTS if name in parts}
        row = neighbours.add_neighbour(group, request.FILES["package"].read(), by=request.user, **told)
        view = neighbours.neighbour_for_reader(slug, row.pk, request.user)
        address = reverse("neighbour", args=(slug, row.pk))
        return Response(NeighbourSerializer(view).data, status.HTTP_201_CREATED, headers={"Location": address})


class NeighbourDetail(BesideView):
    @extend_schema(operation_id="neighbour_read", responses=WholeNeighbourSerializer)
    def get(self, request: Request, slug: str, neighbour_id: UUID) -> Response:
        """Read another server's edition as it was signed."""
        view = neighbours.neighbour_for_reader(slug, neighbour_id, reader_of(request.user))
        return Response(WholeNeighbourSerializer(view).data)

    @extend_schema(operation_id="neighbour_remove", responses={204: None})
    @refuses(Forbidden)
    def delete(self, request: MemberRequest, slug: str, neighbour_id: UUID) -> Response:
        """Take another server's edition off (moderators)."""
        neighbours.remove_neighbour(group_for_reader(slug, request.user), neighbour_id, by=request.user)
        return Response(status=status.HTTP_204_NO_CONTENT)


def _refuse_other_parts(request: Request) -> None:
    """Name each part that is missing, or that nobody asked for."""
    files = set(request.FILES)
    sent = files | set(request.data)
    faults = [Fault(pointer=f"#/{name}", message="There is no such part.") for name in sent - {*TEXTS, "package"}]
    missing = {name for name in NEEDED if name not in sent} | ({"package"} - files) | (files - {"package"}) & {*TEXTS}
    faults += [Fault(pointer=f"#/{name}", message="This part is missing, or not of its kind.") for name in missing]
    if faults:
        raise Invalid("Nothing was kept.", faults=sorted(faults, key=lambda fault: fault["pointer"]))


urlpatterns: list[URLPattern] = [
    path("groups/<slug:slug>/neighbours/", NeighbourList.as_view(), name="neighbours"),
    path("groups/<slug:slug>/neighbours/<uuid:neighbour_id>/", NeighbourDetail.as_view(), name="neighbour"),
]
