"""Groups: finding and founding them, joining and leaving, roles, and the rules that say what counts."""

from typing import Any
from uuid import UUID

from django.urls import URLPattern, path
from drf_spectacular.utils import extend_schema
from rest_framework import serializers, status
from rest_framework.permissions import IsAuthenticatedOrReadOnly
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from server.accounts.selectors import reader_of
from server.api.authentication import MemberRequest
from server.api.disclosures import OddsSerializer, TypedSerializer
from server.api.members import StrictSerializer, checked
from server.api.schema import refuses
from server.core.errors import Conflict, Forbidden, TooMany
from server.groups import selectors, services
from server.groups.founding import found_as_expected
from server.groups.invitations import MOST_USES, make_invitation, open_invitations, revoke_invitation
from server.wears.rehearsals import rehearse_rules


class ProtocolSerializer(StrictSerializer):
    version = serializers.IntegerField(read_only=True)
    k = serializers.IntegerField(required=False, help_text="Fewest people behind any figure, at least 5.")
    fewest_pairs = serializers.IntegerField(required=False, help_text="Fewest pairs of a wear that counts, at least 8.")
    widest_gap_min = serializers.IntegerField(required=False, help_text="Widest gap of a pair in minutes, at most 15.")
    highest_rate_mg_dl_min = serializers.FloatField(required=False, allow_null=True)
    first_day = serializers.CharField(required=False, help_text="keep or leave_out")
    accepted_models = serializers.ListField(
        child=serializers.CharField(), required=False, allow_null=True, help_text="null takes every model."
    )
    accepted_sites = serializers.ListField(
        child=serializers.CharField(), required=False, allow_null=True, help_text="null takes every site."
    )
    accepted_meter_classes = serializers.ListField(
        child=serializers.CharField(), required=False, allow_null=True, help_text="null takes every class."
    )
    editions_before_model_given_up = serializers.IntegerField(
        required=False, help_text="Edition dates a wear waits before it is counted without its sensor model, 2 to 12."
    )
    editions_before_site_given_up = serializers.IntegerField(
        required=False, help_text="Edition dates a wear waits before it is counted without its site, 4 to 12."
    )
    months_between_editions = serializers.IntegerField(required=False, help_text="1, 2 or 3")
    room = serializers.BooleanField(
        required=False, help_text="Whether the group has no figures of its own and its wears count with everyone's."
    )
    joint_rounds = serializers.BooleanField(required=False, help_text="Whether moderators may open joint rounds.")
    two_person_publishing = serializers.BooleanField(
        required=False, help_text="Whether a second moderator must agree before an edition is published."
    )
    curated_by_everyone = serializers.BooleanField(
        required=False, help_text="Whether the moderators of everyone look at its wears, in place of its own."
    )


class ProtocolPreviewSerializer(serializers.Serializer[Any]):
    asked_on = serializers.DateField(help_text="The day for which the answer holds.")
    people_at_least = serializers.IntegerField(allow_null=True, help_text="null: too few to be told.")
    people_below = serializers.IntegerField(allow_null=True)


class GroupSerializer(serializers.Serializer[Any]):
    slug = serializers.SlugField()
    name = serializers.CharField()
    description = serializers.CharField()
    public = serializers.BooleanField()
    feeds_everyone = serializers.BooleanField()
    wearers = serializers.CharField()


class GroupDetailSerializer(GroupSerializer):
    figures_of = serializers.CharField(help_text="The group whose editions it shows: itself, or everyone for a room.")


class FoundedSerializer(GroupDetailSerializer):
    small_group = serializers.CharField(help_text="What to expect of a group as long as it is small.")
    odds = OddsSerializer(allow_null=True, help_text="For the numbers under expected; null without them.")


class DescribeSerializer(StrictSerializer):
    name = serializers.CharField(max_length=80, required=False)
    description = serializers.CharField(max_length=500, required=False, allow_blank=True)


class GroupsSerializer(serializers.Serializer[Any]):
    public = GroupSerializer(many=True)
    yours = GroupSerializer(many=True)


class FoundSerializer(StrictSerializer):
    slug = serializers.SlugField(max_length=40, help_text="A short name for the address.")
    name = serializers.CharField(max_length=80)
    description = serializers.CharField(max_length=500, required=False, allow_blank=True)
    public = serializers.BooleanField(required=False)
    feeds_everyone = serializers.BooleanField(help_text="Fixed for good when the group is founded.")
    wearers = serializers.CharField(help_text="adult, child or mixed")
    expected = TypedSerializer(
        required=False,
        help_text="What you expect of it, as for group-odds; it is not kept. With fewer than 25 members a group that "
        "feeds everyone is a room, unless protocol says otherwise.",
    )
    protocol = ProtocolSerializer(required=False)


class JoinSerializer(StrictSerializer):
    invitation = serializers.CharField(required=False, help_text="Needed for a group that is not public.")


class MembershipSerializer(serializers.Serializer[Any]):
    member = serializers.UUIDField(source="id", help_text="How moderators see you; it names nobody.")
    role = serializers.CharField()


class MembersSerializer(serializers.Serializer[Any]):
    members = MembershipSerializer(many=True)


class InviteSerializer(StrictSerializer):
    uses = serializers.IntegerField(required=False, help_text=f"How many accounts it serves, 1 to {MOST_USES}; 1.")


class InvitationSerializer(serializers.Serializer[Any]):
    invitation = serializers.CharField(source="code", help_text="Shown once.")
    uses = serializers.IntegerField(help_text="How many accounts can join with it.")
    expires_on = serializers.DateField(help_text="The first day on which it serves no more.")


class OpenInvitationSerializer(serializers.Serializer[Any]):
    id = serializers.UUIDField()
    uses_left = serializers.IntegerField(help_text="How many accounts can still join with it.")
    expires_on = serializers.DateField(help_text="The first day on which it serves no more.")
    yours = serializers.BooleanField(help_text="Whether you made it.")


class OpenInvitationsSerializer(serializers.Serializer[Any]):
    invitations = OpenInvitationSerializer(many=True)


class RoleSerializer(StrictSerializer):
    role = serializers.CharField(help_text="member or moderator")


def _detail(group: Any) -> dict[str, Any]:
    return {**GroupSerializer(group).data, "figures_of": selectors.figures_of(group)}


class Groups(APIView):
    permission_classes = (IsAuthenticatedOrReadOnly,)

    @extend_schema(operation_id="groups_list", responses=GroupsSerializer)
    def get(self, request: Request) -> Response:
        """List the public groups, and those you belong to."""
        account = reader_of(request.user)
        yours = selectors.groups_of(account) if account else ()
        return Response(GroupsSerializer({"public": selectors.public_groups(), "yours": yours}).data)

    @extend_schema(operation_id="group_found", request=FoundSerializer, responses={201: FoundedSerializer})
    @refuses(Conflict, TooMany)
    def post(self, request: MemberRequest) -> Response:
        """Found a group; you are its first moderator."""
        founded = found_as_expected(founder=request.user, **checked(FoundSerializer, request))
        odds = None if founded.odds is None else OddsSerializer(founded.odds).data
        told = _detail(founded.group) | {"small_group": founded.small_group, "odds": odds}
        return Response(told, status.HTTP_201_CREATED)


class GroupDetail(APIView):
    permission_classes = (IsAuthenticatedOrReadOnly,)

    @extend_schema(operation_id="group_read", responses=GroupDetailSerializer)
    def get(self, request: Request, slug: str) -> Response:
        """Read about one group."""
        return Response(_detail(selectors.group_for_reader(slug, reader_of(request.user))))

    @extend_schema(operation_id="group_describe", request=DescribeSerializer, responses=GroupDetailSerializer)
    @refuses(Forbidden)
    def put(self, request: MemberRequest, slug: str) -> Response:
        """Change a group's name or description (moderators); what you leave out stays."""
        group = selectors.group_for_member(slug, request.user)
        return Response(
            _detail(services.describe_group(group, by=request.user, **checked(DescribeSerializer, request)))
        )


class GroupProtocol(APIView):
    permission_classes = (IsAuthenticatedOrReadOnly,)

    @extend_schema(operation_id="protocol_read", responses=ProtocolSerializer)
    def get(self, request: Request, slug: str) -> Response:
        """Read the rules that hold now."""
        group = selectors.group_for_reader(slug, reader_of(request.user))
        return Response(ProtocolSerializer(selectors.protocol_of(group)).data)

    @extend_schema(operation_id="protocol_change", request=ProtocolSerializer, responses=ProtocolSerializer)
    @refuses(Forbidden)
    def put(self, request: MemberRequest, slug: str) -> Response:
        """Write a new version of the rules (moderators). It binds what is looked at from now on."""
        group = selectors.group_for_member(slug, request.user)
        protocol = services.change_protocol(group, by=request.user, **checked(ProtocolSerializer, request))
        return Response(ProtocolSerializer(protocol).data)


class ProtocolPreview(APIView):
    @extend_schema(operation_id="protocol_preview", request=ProtocolSerializer, responses=ProtocolPreviewSerializer)
    @refuses(Forbidden, Conflict)
    def post(self, request: MemberRequest, slug: str) -> Response:
        """See of how many people something that waits would count under other rules (moderators). Once a day."""
        group = selectors.group_for_member(slug, request.user)
        told = rehearse_rules(group, by=request.user, **checked(ProtocolSerializer, request))
        return Response(ProtocolPreviewSerializer(told).data)


class GroupMembership(APIView):
    @extend_schema(operation_id="group_join", request=JoinSerializer, responses=MembershipSerializer)
    @refuses(Conflict)
    def put(self, request: MemberRequest, slug: str) -> Response:
        """Join a group."""
        invitation = checked(JoinSerializer, request).get("invitation")
        membership = services.join_by_slug(slug, account=request.user, invitation=invitation)
        return Response(MembershipSerializer(membership).data)

    @extend_schema(operation_id="group_leave", responses={204: None})
    @refuses(Conflict)
    def delete(self, request: MemberRequest, slug: str) -> Response:
        """Leave a group; what of yours waits there becomes private again."""
        services.leave_group(selectors.group_for_member(slug, request.user), account=request.user)
        return Response(status=status.HTTP_204_NO_CONTENT)


class Members(APIView):
    @extend_schema(operation_id="group_members", responses=MembersSerializer)
    @refuses(Forbidden)
    def get(self, request: MemberRequest, slug: str) -> Response:
        """List the members under their pseudonyms (moderators)."""
        group = selectors.group_for_member(slug, request.user)
        return Response(MembersSerializer({"members": selectors.members_of(group, account=request.user)}).data)


class Invitations(APIView):
    @extend_schema(operation_id="group_invitations", responses=OpenInvitationsSerializer)
    @refuses(Forbidden)
    def get(self, request: MemberRequest, slug: str) -> Response:
        """List the invitations that still serve, without their codes (moderators)."""
        group = selectors.group_for_member(slug, request.user)
        invitations = open_invitations(group, account=request.user)
        return Response(OpenInvitationsSerializer({"invitations": invitations}).data)

    @extend_schema(operation_id="group_invite", request=InviteSerializer, responses={201: InvitationSerializer})
    @refuses(Forbidden, Conflict)
    def post(self, request: MemberRequest, slug: str) -> Response:
        """Make an invitation that one account, or a few, can use for a while (moderators)."""
        group = selectors.group_for_member(slug, request.user)
        made = make_invitation(group, by=request.user, **checked(InviteSerializer, request))
        return Response(InvitationSerializer(made).data, status.HTTP_201_CREATED)


class InvitationDetail(APIView):
    @extend_schema(operation_id="group_invitation_revoke", responses={204: None})
    @refuses(Forbidden)
    def delete(self, request: MemberRequest, slug: str, invitation: UUID) -> Response:
        """Revoke an invitation (moderators); who has joined with it stays."""
        group = selectors.group_for_member(slug, request.user)
        revoke_invitation(group, invitation, by=request.user)
        return Response(status=status.HTTP_204_NO_CONTENT)


class MemberRole(APIView):
    @extend_schema(operation_id="group_set_role", request=RoleSerializer, responses=MembershipSerializer)
    @refuses(Forbidden, Conflict)
    def put(self, request: MemberRequest, slug: str, member: UUID) -> Response:
        """Give a member another role (moderators)."""
        group = selectors.group_for_member(slug, request.user)
        role = checked(RoleSerializer, request)["role"]
        return Response(MembershipSerializer(services.set_role(group, member=member, role=role, by=request.user)).data)


urlpatterns: list[URLPattern] = [
    path("groups/", Groups.as_view(), name="groups"),
    path("groups/<slug:slug>/", GroupDetail.as_view(), name="group"),
    path("groups/<slug:slug>/protocol/", GroupProtocol.as_view(), name="group-protocol"),
    path("groups/<slug:slug>/protocol/preview/", ProtocolPreview.as_view(), name="group-protocol-preview"),
    path("groups/<slug:slug>/membership/", GroupMembership.as_view(), name="group-membership"),
    path("groups/<slug:slug>/members/", Members.as_view(), name="group-members"),
    path("groups/<slug:slug>/invitations/", Invitations.as_view(), name="group-invitations"),
    path("groups/<slug:slug>/invitations/<uuid:invitation>/", InvitationDetail.as_view(), name="group-invitation"),
    path("groups/<slug:slug>/members/<uuid:member>/role/", MemberRole.as_view(), name="group-role"),
]
