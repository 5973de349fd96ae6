"""Editions, their tables and charts, and the drafts that moderators build and publish."""

import hashlib
from typing import Any
from uuid import UUID

from django.http import HttpResponse
from django.http.response import HttpResponseBase
from django.urls import URLPattern, path, reverse
from django.utils.cache import get_conditional_response, patch_vary_headers
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, OpenApiResponse, extend_schema
from rest_framework import serializers, status
from rest_framework.permissions import AllowAny
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from server.api.rendering import FormatInAddress
from server.core import clock
from server.editions import rendering, selectors, services
from server.editions.selectors import EditionView
from server.groups.selectors import group_for_reader

PUBLIC_NUMBERED = "public, max-age=3600"
PUBLIC_LATEST = "public, no-cache"
MEMBERS_ONLY = "private, no-cache"
DOCUMENT = OpenApiResponse(
    OpenApiTypes.OBJECT,
    description="The edition as canonical JSON (format edition/1): exactly the bytes whose SHA-256 is its entity tag.",
)


class EditionLineSerializer(serializers.Serializer[selectors.EditionLine]):
    number = serializers.IntegerField()
    cut_off = serializers.DateField(help_text="The date up to which wears were admitted.")
    published_month = serializers.DateField(help_text="The first day of the month of publication.")
    sha256 = serializers.CharField(help_text="Digest of the document's bytes, its identity.")


class EditionListSerializer(serializers.Serializer[Any]):
    editions = EditionLineSerializer(many=True, help_text="The newest first.")
    next_cut_off = serializers.DateField(help_text="By the group's own calendar.")


class PartSerializer(serializers.Serializer[selectors.PartView]):
    channel = serializers.CharField()
    state = serializers.ChoiceField(choices=selectors.PART_STATES)


class DraftSerializer(serializers.Serializer[selectors.DraftView]):
    id = serializers.UUIDField()
    number = serializers.IntegerField(help_text="The edition this is a draft of.")
    state = serializers.ChoiceField(choices=selectors.DRAFT_STATES)
    overtaken = serializers.BooleanField(help_text="A later cut-off has passed: discard it and start a new one.")
    parts = PartSerializer(many=True)
    reasons = serializers.ListField(child=serializers.CharField(), help_text="Why a draft was refused, in words.")
    document = serializers.DictField(
        allow_null=True, help_text="What would be published, and nothing else: figures in their published form."
    )


class DraftLineSerializer(serializers.Serializer[selectors.DraftLine]):
    id = serializers.UUIDField()
    number = serializers.IntegerField(help_text="The edition it is a draft of.")
    state = serializers.ChoiceField(choices=selectors.DRAFT_STATES)
    overtaken = serializers.BooleanField()


class DraftListSerializer(serializers.Serializer[Any]):
    drafts = DraftLineSerializer(many=True, help_text="The newest edition's first.")


class PublishedSerializer(serializers.Serializer[Any]):
    number = serializers.IntegerField()
    sha256 = serializers.CharField()


class ReaderView(APIView):
    """What readers of a group may have, signed in or not."""

    permission_classes = (AllowAny,)


class EditionList(ReaderView):
    @extend_schema(operation_id="editions_list", responses=EditionListSerializer)
    def get(self, request: Request, slug: str) -> Response:
        """List a group's editions."""
        lines = selectors.editions_list(slug, _account(request))
        next_date = selectors.next_edition_date(slug, _account(request), today=clock.today())
        content = {"editions": lines, "next_cut_off": next_date}
        return Response(EditionListSerializer(content).data)


class EditionDetail(ReaderView):
    content_negotiation_class = FormatInAddress

    @extend_schema(operation_id="edition_read", responses={200: DOCUMENT, 304: None})
    def get(self, request: Request, slug: str, number: int) -> HttpResponseBase:
        """Read one edition."""
        view = selectors.edition_for_reader(slug, number, _account(request))
        return _answer(request, view, rendering.document_file(view))


class LatestEdition(ReaderView):
    content_negotiation_class = FormatInAddress

    @extend_schema(operation_id="edition_read_latest", responses={200: DOCUMENT, 304: None})
    def get(self, request: Request, slug: str) -> HttpResponseBase:
        """Read a group's newest edition."""
        view = selectors.edition_for_reader(slug, "latest", _account(request))
        return _answer(request, view, rendering.document_file(view), is_latest=True)


class TableFile(ReaderView):
    content_negotiation_class = FormatInAddress

    @extend_schema(
        operation_id="edition_table",
        parameters=[OpenApiParameter("table", enum=rendering.TABLES, location="path")],
        responses={(200, "text/csv"): OpenApiTypes.STR, 304: None},
    )
    def get(self, request: Request, slug: str, number: int, table: str) -> HttpResponseBase:
        """Download one table of an edition as CSV; the caution stands in the file."""
        view = selectors.edition_for_reader(slug, number, _account(request))
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
    def get(self, request: Request, slug: str, number: int, chart: str, file_format: str) -> HttpResponseBase:
        """Download one chart of an edition as SVG, PNG, or the specification both are drawn from."""
        view = selectors.edition_for_reader(slug, number, _account(request))
        return _answer(request, view, rendering.chart_file(view, chart, file_format))


class DraftList(APIView):
    @extend_schema(operation_id="drafts_list", responses=DraftListSerializer)
    def get(self, request: Request, slug: str) -> Response:
        """List a group's drafts (moderators)."""
        lines = selectors.drafts_list(_group(request, slug), account=request.user)
        return Response(DraftListSerializer({"drafts": lines}).data)

    @extend_schema(operation_id="draft_start", request=None, responses={202: DraftSerializer})
    def post(self, request: Request, slug: str) -> Response:
        """Start the draft of the edition that belongs to the latest cut-off (moderators)."""
        group = _group(request, slug)
        draft = services.start_draft(group, by=request.user)
        view = selectors.draft_for_moderator(group, draft.pk, account=request.user)
        address = reverse("draft", args=(slug, draft.pk))
        return Response(DraftSerializer(view).data, status.HTTP_202_ACCEPTED, headers={"Location": address})


class DraftDetail(APIView):
    @extend_schema(operation_id="draft_read", responses=DraftSerializer)
    def get(self, request: Request, slug: str, draft_id: UUID) -> Response:
        """See how far a draft is, and what it would publish (moderators)."""
        view = selectors.draft_for_moderator(_group(request, slug), draft_id, account=request.user)
        return Response(DraftSerializer(view).data)

    @extend_schema(operation_id="draft_discard", responses={204: None})
    def delete(self, request: Request, slug: str, draft_id: UUID) -> Response:
        """Discard a draft (moderators)."""
        services.discard_draft(_group(request, slug), draft_id, by=request.user)
        return Response(status=status.HTTP_204_NO_CONTENT)


class DraftPublication(APIView):
    @extend_schema(operation_id="draft_publish", request=None, responses={201: PublishedSerializer})
    def post(self, request: Request, slug: str, draft_id: UUID) -> Response:
        """Publish a draft that is ready, for good (moderators)."""
        edition = services.publish_draft(_group(request, slug), draft_id, by=request.user)
        address = reverse("edition", args=(slug, edition.number))
        return Response(PublishedSerializer(edition).data, status.HTTP_201_CREATED, headers={"Location": address})


def _account(request: Request) -> Any:
    return request.user if request.user.is_authenticated else None


def _group(request: Request, slug: str) -> Any:
    return group_for_reader(slug, request.user)


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
    path("groups/<slug:slug>/drafts/", DraftList.as_view(), name="drafts"),
    path("groups/<slug:slug>/drafts/<uuid:draft_id>/", DraftDetail.as_view(), name="draft"),
    path("groups/<slug:slug>/drafts/<uuid:draft_id>/publish/", DraftPublication.as_view(), name="draft-publication"),
]
