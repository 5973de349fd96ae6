"""What moderators do with the wears given to their group."""

from typing import Any
from uuid import UUID

from django.urls import URLPattern, path
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import serializers, status
from rest_framework.response import Response
from rest_framework.views import APIView

from server.api.authentication import MemberRequest
from server.api.members import StrictSerializer, checked
from server.api.schema import refuses
from server.api.wears import FindingSerializer
from server.core.errors import Conflict, Forbidden, Invalid, TooMany
from server.core.outcomes import Family
from server.curation import selectors, services
from server.editions import closing
from server.groups.selectors import group_for_member
from server.wears.transitions import STATES

FAMILIES = tuple(Family.values)


class QueuedSerializer(serializers.Serializer[Any]):
    wear = serializers.UUIDField(source="id")
    points = serializers.IntegerField(help_text="How much it needs a look.")
    appealed = serializers.BooleanField()
    findings = serializers.ListField(child=serializers.CharField(), source="remarks")


class DecidedSerializer(serializers.Serializer[Any]):
    wear = serializers.UUIDField(source="id")
    state = serializers.ChoiceField(choices=STATES, help_text="approved, excluded or asked")


class QueueSerializer(serializers.Serializer[Any]):
    wears = QueuedSerializer(many=True, help_text="What needs a look most comes first; nothing tells who came first.")
    decided = DecidedSerializer(
        many=True, help_text="Decided since the last edition date, or asked about: what can still be undone."
    )


class BesideSerializer(serializers.Serializer[Any]):
    lower_pct = serializers.FloatField(help_text="Of 100 new wears 95 lie between this mean difference and the next.")
    upper_pct = serializers.FloatField()
    own_pct = serializers.FloatField()
    sds_off = serializers.FloatField()


class SeenPairSerializer(serializers.Serializer[Any]):
    day = serializers.IntegerField()
    reference = serializers.FloatField()
    sensor = serializers.FloatField(allow_null=True)
    sensor_mark = serializers.CharField(allow_null=True)


class CuratedWearSerializer(serializers.Serializer[Any]):
    wear = serializers.UUIDField(source="wear_id")
    state = serializers.CharField()
    appealed = serializers.BooleanField(help_text="Left out before; its owner wants it looked at again.")
    sensor_model = serializers.CharField()
    site = serializers.CharField()
    worn_days = serializers.IntegerField()
    end_reason = serializers.CharField()
    meter_class = serializers.CharField()
    assignment = serializers.CharField()
    n_pairs = serializers.IntegerField()
    n_pairs_by_day = serializers.DictField(child=serializers.IntegerField())
    findings = FindingSerializer(many=True)
    agreement = serializers.DictField()
    points = serializers.IntegerField(help_text="How much it needs a look.")
    glucose_unit = serializers.CharField()
    expected = BesideSerializer(allow_null=True, help_text="Beside what the last edition lets one expect there.")
    pairs = SeenPairSerializer(
        many=True, allow_null=True, help_text="By whole days, rounded to 10 mg/dL or 0.5 mmol/L; null in small groups."
    )


class DecideSerializer(StrictSerializer):
    action = serializers.ChoiceField(choices=services.ACTIONS)
    code = serializers.CharField(required=False, help_text="The reason, for a wear that is left out.")


class AskSerializer(StrictSerializer):
    question = serializers.CharField(help_text="What the owner is asked, from the list.")


class DecisionSerializer(serializers.Serializer[Any]):
    number = serializers.IntegerField()
    wear = serializers.CharField(source="wear_mark")
    action = serializers.CharField()
    code = serializers.CharField()
    closes = serializers.CharField(help_text="Of sums that are ended early: site, sensor model, end, kinds of figures.")
    figures = serializers.IntegerField(allow_null=True, help_text="The edition that was published or taken back.")
    moderator = serializers.CharField(source="moderator_mark", help_text="A keyed mark, or operator.")
    protocol_version = serializers.IntegerField()
    month = serializers.DateField(source="on_month")
    chain_hash = serializers.CharField()


class RecordSerializer(serializers.Serializer[Any]):
    decisions = DecisionSerializer(many=True)
    next = serializers.IntegerField(allow_null=True, help_text="What `after` is for the next page; null on the last.")


class BulkSerializer(StrictSerializer):
    wears = serializers.ListField(child=serializers.UUIDField(), help_text="At most 25 wears of the queue.")


class LeftSerializer(serializers.Serializer[Any]):
    wear = serializers.UUIDField(source="wear_id")
    why = serializers.CharField()


class BulkDoneSerializer(serializers.Serializer[Any]):
    approved = DecisionSerializer(many=True)
    left = LeftSerializer(many=True, help_text="Wears that were left as they are, and why.")


class OpenEndSerializer(serializers.Serializer[Any]):
    end = serializers.IntegerField()
    ends_on = serializers.DateField()
    counted_from = serializers.DateField(help_text="The first edition date whose wears end then.")
    counted_to = serializers.DateField()


class DueClosingSerializer(serializers.Serializer[Any]):
    site = serializers.CharField()
    sensor_model = serializers.CharField()
    end = serializers.IntegerField(source="end_bucket")
    families = serializers.ListField(child=serializers.CharField())


class ClosingsSerializer(serializers.Serializer[Any]):
    ends = OpenEndSerializer(many=True)
    due = DueClosingSerializer(many=True, help_text="What ends at the next edition date.")


class CloseSerializer(StrictSerializer):
    site = serializers.CharField()
    sensor_model = serializers.CharField()
    end = serializers.IntegerField(help_text="One of the ends that GET names.")
    code = serializers.CharField(help_text="The reason, as for a wear that is left out.")
    families = serializers.ListField(
        child=serializers.ChoiceField(choices=FAMILIES), required=False, help_text="Kinds of figures; all without it."
    )
    confirm = serializers.CharField(required=False, help_text="What the first answer gave, once you have read it.")


class ToldClosingSerializer(serializers.Serializer[Any]):
    stops = serializers.CharField(help_text="What would stop counting, in words.")
    takes_effect_on = serializers.DateField()
    confirm = serializers.CharField(help_text="Send it with the same request to go ahead.")


class Queue(APIView):
    @extend_schema(operation_id="curation_queue", responses=QueueSerializer)
    @refuses(Forbidden)
    def get(self, request: MemberRequest, slug: str) -> Response:
        """List the wears to decide about (moderators)."""
        group = group_for_member(slug, request.user)
        told = {
            "wears": selectors.queue_for_moderator(group, account=request.user),
            "decided": selectors.decided_for_moderator(group, account=request.user),
        }
        return Response(QueueSerializer(told).data)


class QueuedWear(APIView):
    @extend_schema(operation_id="curation_wear", responses=CuratedWearSerializer)
    @refuses(Forbidden, TooMany)
    def get(self, request: MemberRequest, slug: str, wear_id: UUID) -> Response:
        """Look at one wear without its owner (moderators)."""
        group = group_for_member(slug, request.user)
        return Response(CuratedWearSerializer(selectors.wear_for_moderator(group, wear_id, account=request.user)).data)


class QueuedWearDecision(APIView):
    @extend_schema(operation_id="curation_decide", request=DecideSerializer, responses={201: DecisionSerializer})
    @refuses(Forbidden, Conflict)
    def post(self, request: MemberRequest, slug: str, wear_id: UUID) -> Response:
        """Approve a wear, leave it out for a listed reason, or undo that before an edition date (moderators)."""
        group = group_for_member(slug, request.user)
        asked = checked(DecideSerializer, request)
        decision = services.decide(group, wear_id, action=asked["action"], code=asked.get("code", ""), by=request.user)
        return Response(DecisionSerializer(decision).data, status.HTTP_201_CREATED)


class QueuedWearQuestion(APIView):
    @extend_schema(operation_id="curation_ask", request=AskSerializer, responses={201: DecisionSerializer})
    @refuses(Forbidden, Conflict)
    def post(self, request: MemberRequest, slug: str, wear_id: UUID) -> Response:
        """Have the owner asked something of the list, each thing once (moderators)."""
        group = group_for_member(slug, request.user)
        question = checked(AskSerializer, request)["question"]
        entry = services.ask_owner(group, wear_id, question=question, by=request.user)
        return Response(DecisionSerializer(entry).data, status.HTTP_201_CREATED)


class CleanWears(APIView):
    @extend_schema(operation_id="curation_approve_clean", request=BulkSerializer, responses=BulkDoneSerializer)
    @refuses(Forbidden)
    def post(self, request: MemberRequest, slug: str) -> Response:
        """Approve wears in which nothing at all was found, each with its own entry in the record (moderators)."""
        group = group_for_member(slug, request.user)
        wears = checked(BulkSerializer, request)["wears"]
        return Response(BulkDoneSerializer(services.approve_clean(group, wears, by=request.user)).data)


class Record(APIView):
    @extend_schema(
        operation_id="curation_record",
        parameters=[OpenApiParameter("after", int, description="The number of the last entry read; 0 without it.")],
        responses=RecordSerializer,
    )
    @refuses(Forbidden, Invalid)
    def get(self, request: MemberRequest, slug: str) -> Response:
        """Read the group's record, a page of 100 entries at a time; each is chained to the one before (moderators)."""
        group = group_for_member(slug, request.user)
        after = request.query_params.get("after", "0")
        if not (after.isascii() and after.isdecimal() and len(after) < 10):
            raise Invalid("after is the number of the last entry that you have read.")
        entries = selectors.record_of(group, account=request.user, after=int(after))
        following = entries[-1].number if len(entries) == selectors.RECORD_PAGE else None
        return Response(RecordSerializer({"decisions": entries, "next": following}).data)


class Closings(APIView):
    @extend_schema(operation_id="closings", responses=ClosingsSerializer)
    @refuses(Forbidden)
    def get(self, request: MemberRequest, slug: str) -> Response:
        """Read at which dates sums end, and what moderators end early at the next one (moderators)."""
        group = group_for_member(slug, request.user)
        return Response(ClosingsSerializer(closing.closings_for_moderator(group, account=request.user)).data)

    @extend_schema(
        operation_id="close", request=CloseSerializer, responses={200: ToldClosingSerializer, 201: DecisionSerializer}
    )
    @refuses(Forbidden, Conflict)
    def post(self, request: MemberRequest, slug: str) -> Response:
        """End what was counted of a site and sensor model early: first read what that means, then confirm (moderators).

        Without `confirm` nothing is done, and the answer says how coarse it is. With it, it is done at the next edition
        date and cannot be undone.
        """
        group = group_for_member(slug, request.user)
        sent = checked(CloseSerializer, request)
        confirm = sent.pop("confirm", None)
        if "families" in sent:
            sent["families"] = tuple(family for family in FAMILIES if family in sent["families"])
        asked = closing.Asked(**sent)
        if confirm is None:
            return Response(ToldClosingSerializer(closing.tell_closing(group, asked, by=request.user)).data)
        decision = closing.close_sums(group, asked, confirm=confirm, by=request.user)
        return Response(DecisionSerializer(decision).data, status.HTTP_201_CREATED)


urlpatterns: list[URLPattern] = [
    path("groups/<slug:slug>/curation/", Queue.as_view(), name="curation"),
    path("groups/<slug:slug>/curation/approvals/", CleanWears.as_view(), name="curation-approvals"),
    path("groups/<slug:slug>/curation/<uuid:wear_id>/", QueuedWear.as_view(), name="curation-wear"),
    path(
        "groups/<slug:slug>/curation/<uuid:wear_id>/decision/", QueuedWearDecision.as_view(), name="curation-decision"
    ),
    path(
        "groups/<slug:slug>/curation/<uuid:wear_id>/question/", QueuedWearQuestion.as_view(), name="curation-question"
    ),
    path("groups/<slug:slug>/closings/", Closings.as_view(), name="closings"),
    path("groups/<slug:slug>/record/", Record.as_view(), name="curation-record"),
]
