"""Drafts that moderators look at, publish or discard."""

from typing import Any
from uuid import UUID

from django.urls import URLPattern, path, reverse
from drf_spectacular.utils import extend_schema
from rest_framework import serializers, status
from rest_framework.response import Response
from rest_framework.views import APIView

from server.api.authentication import MemberRequest
from server.api.schema import refuses
from server.core.errors import Conflict, Forbidden
from server.editions import drafts, services
from server.groups.selectors import group_for_reader


class PartSerializer(serializers.Serializer[drafts.PartView]):
    channel = serializers.CharField()
    state = serializers.ChoiceField(choices=drafts.PART_STATES)


class ProgressSerializer(serializers.Serializer[Any]):
    done = serializers.IntegerField()
    total = serializers.IntegerField()


class DraftSerializer(serializers.Serializer[drafts.DraftView]):
    id = serializers.UUIDField()
    number = serializers.IntegerField(help_text="The edition this is a draft of.")
    state = serializers.ChoiceField(choices=drafts.DRAFT_STATES)
    overtaken = serializers.BooleanField(help_text="A later cut-off has passed: discard it and start a new one.")
    parts = PartSerializer(many=True)
    reasons = serializers.ListField(child=serializers.CharField(), help_text="Why a draft was refused, in words.")
    progress = ProgressSerializer(help_text="How many parts are fitted, of how many.")
    proposed = serializers.BooleanField(help_text="A moderator would publish it; another one has to confirm.")
    document = serializers.DictField(
        allow_null=True, help_text="What would be published, and nothing else: figures in their published form."
    )
    certificate = serializers.DictField(allow_null=True, help_text="What the auditor states of the document.")
    withheld = serializers.DictField(allow_null=True, help_text="What the document does not show, in general terms.")
    changes = serializers.DictField(
        allow_null=True, help_text="How it differs from the last edition that stands; null where there is none."
    )
    diagnosis = serializers.DictField(allow_null=True, help_text="How far the fit can be believed, in words.")


class DraftLineSerializer(serializers.Serializer[drafts.DraftLine]):
    id = serializers.UUIDField()
    number = serializers.IntegerField(help_text="The edition it is a draft of.")
    state = serializers.ChoiceField(choices=drafts.DRAFT_STATES)
    overtaken = serializers.BooleanField()


class DraftListSerializer(serializers.Serializer[Any]):
    drafts = DraftLineSerializer(many=True, help_text="The newest edition's first.")


class PublishedSerializer(serializers.Serializer[Any]):
    number = serializers.IntegerField()
    sha256 = serializers.CharField()


class DraftList(APIView):
    @extend_schema(operation_id="drafts_list", responses=DraftListSerializer)
    @refuses(Forbidden)
    def get(self, request: MemberRequest, slug: str) -> Response:
        """List a group's drafts (moderators)."""
        lines = drafts.drafts_list(_group(request, slug), account=request.user)
        return Response(DraftListSerializer({"drafts": lines}).data)

    @extend_schema(operation_id="draft_start", request=None, responses={202: DraftSerializer})
    @refuses(Forbidden, Conflict)
    def post(self, request: MemberRequest, slug: str) -> Response:
        """Start the draft of the edition that belongs to the latest cut-off (moderators)."""
        group = _group(request, slug)
        draft = services.start_draft(group, by=request.user)
        view = drafts.draft_for_moderator(group, draft.pk, account=request.user)
        address = reverse("draft", args=(slug, draft.pk))
        return Response(DraftSerializer(view).data, status.HTTP_202_ACCEPTED, headers={"Location": address})


class DraftDetail(APIView):
    @extend_schema(operation_id="draft_read", responses=DraftSerializer)
    @refuses(Forbidden)
    def get(self, request: MemberRequest, slug: str, draft_id: UUID) -> Response:
        """See how far a draft is, and what it would publish (moderators)."""
        view = drafts.draft_for_moderator(_group(request, slug), draft_id, account=request.user)
        return Response(DraftSerializer(view).data)

    @extend_schema(operation_id="draft_discard", responses={204: None})
    @refuses(Forbidden, Conflict)
    def delete(self, request: MemberRequest, slug: str, draft_id: UUID) -> Response:
        """Discard a draft, which is then read as discarded (moderators)."""
        services.discard_draft(_group(request, slug), draft_id, by=request.user)
        return Response(status=status.HTTP_204_NO_CONTENT)


class DraftPublication(APIView):
    @extend_schema(
        operation_id="draft_publish", request=None, responses={201: PublishedSerializer, 202: DraftSerializer}
    )
    @refuses(Forbidden, Conflict)
    def post(self, request: MemberRequest, slug: str, draft_id: UUID) -> Response:
        """Publish a draft that is ready, or propose it where two moderators are asked for (moderators)."""
        group = _group(request, slug)
        edition = services.publish_draft(group, draft_id, by=request.user)
        if edition is None:
            view = drafts.draft_for_moderator(group, draft_id, account=request.user)
            return Response(DraftSerializer(view).data, status.HTTP_202_ACCEPTED)
        address = reverse("edition", args=(slug, edition.number))
        return Response(PublishedSerializer(edition).data, status.HTTP_201_CREATED, headers={"Location": address})


def _group(request: MemberRequest, slug: str) -> Any:
    return group_for_reader(slug, request.user)


urlpatterns: list[URLPattern] = [
    path("groups/<slug:slug>/drafts/", DraftList.as_view(), name="drafts"),
    path("groups/<slug:slug>/drafts/<uuid:draft_id>/", DraftDetail.as_view(), name="draft"),
    path("groups/<slug:slug>/drafts/<uuid:draft_id>/publish/", DraftPublication.as_view(), name="draft-publication"),
]
