"""Editions with their tables, charts and packages, taking one back, and the key that signs them."""

import hashlib
from typing import Any

from django.http import HttpResponse
from django.http.response import HttpResponseBase
from django.urls import URLPattern, path
from django.utils.cache import get_conditional_response, patch_vary_headers
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, OpenApiResponse, extend_schema
from rest_framework import serializers, status
from rest_framework.permissions import AllowAny
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from server.accounts.selectors import reader_of
from server.api.authentication import MemberRequest
from server.api.members import StrictSerializer, checked
from server.api.rendering import FormatInAddress
from server.api.schema import refuses
from server.core import clock
from server.core.errors import Conflict, Forbidden, Gone, NotFound
from server.editions import rendering, retracting, selectors, signing
from server.editions.selectors import EditionView
from server.groups.selectors import group_for_reader

# An edition never changes, but it can be taken back: caches may answer alone for a minute only.
PUBLIC_NUMBERED = "public, max-age=60"
PUBLIC_LATEST = "public, no-cache"
MEMBERS_ONLY = "private, no-cache"
DOCUMENT = OpenApiResponse(
    {
        "type": "object",
        "properties": {
            "caution": {
                "type": "object",
                "properties": {"version": {"type": "integer"}, "text": {"type": "string"}, "short": {"type": "string"}},
                "required": ["version", "text", "short"],
                "additionalProperties": False,
            }
        },
        "required": ["caution"],
    },
    description="The edition as canonical JSON (format edition/1): exactly the bytes whose SHA-256 is its entity tag.",
)


class RetractionSerializer(serializers.Serializer[selectors.RetractionView]):
    reason = serializers.ChoiceField(choices=retracting.REASONS)
    in_words = serializers.CharField()
    month = serializers.DateField(allow_null=True, help_text="When it was taken back; null while only proposed.")


class RetractSerializer(StrictSerializer):
    reason = serializers.CharField(help_text=f"One of {', '.join(retracting.REASONS)}.")


class SigningKeySerializer(serializers.Serializer[Any]):
    algorithm = serializers.CharField()
    public_key = serializers.CharField(help_text="64 hexadecimal digits; what new editions are signed with.")
    also_signed_with = serializers.ListField(child=serializers.CharField(), help_text="Keys of earlier editions.")


class EditionLineSerializer(serializers.Serializer[selectors.EditionLine]):
    number = serializers.IntegerField()
    cut_off = serializers.DateField(help_text="The date up to which wears were admitted.")
    published_month = serializers.DateField(help_text="The first day of the month of publication.")
    sha256 = serializers.CharField(help_text="Digest of the document's bytes, its identity.")
    retracted = RetractionSerializer(allow_null=True, help_text="That it was taken back and why, or null.")


class EditionListSerializer(serializers.Serializer[Any]):
    editions = EditionLineSerializer(many=True, help_text="The newest first.")
    next_cut_off = serializers.DateField(help_text="By the group's own calendar.")


class ReaderView(APIView):
    """What readers of a group may have, signed in or not."""

    permission_classes = (AllowAny,)


class EditionList(ReaderView):
    @extend_schema(operation_id="editions_list", responses=EditionListSerializer)
    def get(self, request: Request, slug: str) -> Response:
        """List a group's editions."""
        lines = selectors.editions_list(slug, reader_of(request.user))
        next_date = selectors.next_edition_date(slug, reader_of(request.user), today=clock.today())
        content = {"editions": lines, "next_cut_off": next_date}
        return Response(EditionListSerializer(content).data)


class EditionDetail(ReaderView):
    content_negotiation_class = FormatInAddress

    @extend_schema(operation_id="edition_read", responses={200: DOCUMENT, 304: None})
    @refuses(Gone)
    def get(self, request: Request, slug: str, number: int) -> HttpResponseBase:
        """Read one edition."""
        view = selectors.edition_for_reader(slug, number, reader_of(request.user))
        return _answer(request, view, rendering.document_file(view))


class LatestEdition(ReaderView):
    content_negotiation_class = FormatInAddress

    @extend_schema(operation_id="edition_read_latest", responses={200: DOCUMENT, 304: None})
    def get(self, request: Request, slug: str) -> HttpResponseBase:
        """Read a group's newest edition."""
        view = selectors.edition_for_reader(slug, "latest", reader_of(request.user))
        return _answer(request, view, rendering.document_file(view), is_latest=True)


class TableFile(ReaderView):
    content_negotiation_class = FormatInAddress

    @extend_schema(
        operation_id="edition_table",
        parameters=[OpenApiParameter("table", enum=rendering.TABLES, location="path")],
        responses={(200, "text/csv"): OpenApiTypes.STR, 304: None},
    )
    @refuses(Gone)
    def get(self, request: Request, slug: str, number: int, table: str) -> HttpResponseBase:
        """Download one table of an edition as CSV; the caution stands in the file."""
        view = selectors.edition_for_reader(slug, number, reader_of(request.user))
        return _answer(request, view, rendering.table_file(view, table))


class ChartFile(ReaderView):
    content_negotiation_class = FormatInAddress

    @extend_schema(
        operation_id="edition_chart",
        parameters=[
            OpenApiParameter("chart", enum=rendering.CHARTS, location="path"),
            OpenApiParameter("file_format", enum=rendering.CHART_FORMATS, location="path"),
        ],
        responses={
            (200, "image/svg+xml"): OpenApiTypes.STR,
            (200, "image/png"): OpenApiTypes.BINARY,
            (200, "application/json"): OpenApiTypes.OBJECT,
            304: None,
        },
    )
    @refuses(Gone)
    def get(self, request: Request, slug: str, number: int, chart: str, file_format: str) -> HttpResponseBase:
        """Download one chart of an edition as SVG, PNG, or the specification both are drawn from."""
        view = selectors.edition_for_reader(slug, number, reader_of(request.user))
        return _answer(request, view, rendering.chart_file(view, chart, file_format))


class PackageFile(ReaderView):
    content_negotiation_class = FormatInAddress

    @extend_schema(operation_id="edition_package", responses={(200, "application/zip"): OpenApiTypes.BINARY, 304: None})
    @refuses(Gone)
    def get(self, request: Request, slug: str, number: int) -> HttpResponseBase:
        """Download an edition with all that follows from it as one archive; `commonwear verify` checks it."""
        view = selectors.edition_for_reader(slug, number, reader_of(request.user))
        response = _answer(request, view, rendering.package_file(view))
        response.headers["Content-Disposition"] = f'attachment; filename="{view.group_slug}-edition-{view.number}.zip"'
        return response


class RetractionDetail(APIView):
    @extend_schema(operation_id="retraction_read", responses=RetractionSerializer)
    @refuses(Forbidden)
    def get(self, request: MemberRequest, slug: str, number: int) -> Response:
        """See what was done, or proposed, about taking an edition back (moderators)."""
        group = group_for_reader(slug, request.user)
        view = selectors.retraction_for_moderator(group, number, account=request.user)
        return Response(RetractionSerializer(view).data)

    @extend_schema(
        operation_id="edition_retract",
        request=RetractSerializer,
        responses={201: RetractionSerializer, 202: RetractionSerializer},
    )
    @refuses(Forbidden, Conflict)
    def post(self, request: MemberRequest, slug: str, number: int) -> Response:
        """Take an edition back for good, or propose it where two moderators are asked for (moderators)."""
        group = group_for_reader(slug, request.user)
        retracting.require_retractor(group, by=request.user)
        reason = checked(RetractSerializer, request)["reason"]
        retracting.retract_edition(group, number, reason=reason, by=request.user)
        view = selectors.retraction_for_moderator(group, number, account=request.user)
        answered = status.HTTP_201_CREATED if view.month else status.HTTP_202_ACCEPTED
        return Response(RetractionSerializer(view).data, answered)

    @extend_schema(operation_id="retraction_withdraw", responses={204: None})
    @refuses(Forbidden, Conflict)
    def delete(self, request: MemberRequest, slug: str, number: int) -> Response:
        """Withdraw a proposal to take an edition back (moderators)."""
        retracting.withdraw_retraction(group_for_reader(slug, request.user), number, by=request.user)
        return Response(status=status.HTTP_204_NO_CONTENT)


class SigningKey(ReaderView):
    @extend_schema(operation_id="signing_key", responses=SigningKeySerializer)
    @refuses(NotFound)
    def get(self, request: Request) -> Response:
        """Read the public key that this server signs editions with."""
        key = signing.public_key()
        if key is None:
            raise NotFound("This server signs no editions.")
        others = [other for other in selectors.signing_keys_seen() if other != key]
        content = {"algorithm": signing.ALGORITHM, "public_key": key, "also_signed_with": others}
        return Response(SigningKeySerializer(content).data)


def _answer(request: Request, view: EditionView, file: rendering.File, *, is_latest: bool = False) -> HttpResponseBase:
    """Send stored or drawn bytes under a strong entity tag, or nothing where the asker has them already."""
    response = HttpResponse(file.content, content_type=file.media_type)
    response["ETag"] = f'"{hashlib.sha256(file.content).hexdigest()}"'
    response["Cache-Control"] = (PUBLIC_LATEST if is_latest else PUBLIC_NUMBERED) if view.is_public else MEMBERS_ONLY
    patch_vary_headers(response, ("Authorization",))
    # Django's own request is asked: the framework's wrapper has no conditional headers.
    return get_conditional_response(request._request, etag=response["ETag"], response=response) or response


urlpatterns: list[URLPattern] = [
    path("groups/<slug:slug>/editions/", EditionList.as_view(), name="editions"),
    path("groups/<slug:slug>/editions/latest/", LatestEdition.as_view(), name="edition-latest"),
    path("groups/<slug:slug>/editions/<int:number>/", EditionDetail.as_view(), name="edition"),
    path("groups/<slug:slug>/editions/<int:number>/tables/<slug:table>.csv", TableFile.as_view(), name="edition-table"),
    path(
        "groups/<slug:slug>/editions/<int:number>/charts/<slug:chart>.<slug:file_format>",
        ChartFile.as_view(),
        name="edition-chart",
    ),
    path("groups/<slug:slug>/editions/<int:number>/package.zip", PackageFile.as_view(), name="edition-package"),
    path("groups/<slug:slug>/editions/<int:number>/retraction/", RetractionDetail.as_view(), name="edition-retraction"),
    path("signing-key/", SigningKey.as_view(), name="signing-key"),
]
