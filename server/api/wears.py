"""Wears: upload, the owner's list and report, giving and taking back; the catalogue and the record's schema."""

from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache, partial
from typing import TYPE_CHECKING, Any, Final, Protocol
from uuid import UUID

from django.http import HttpResponse
from django.urls import URLPattern, path, reverse
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, PolymorphicProxySerializer, extend_schema
from msgspec import to_builtins
from rest_framework import serializers, status
from rest_framework.permissions import AllowAny
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from server.accounts.selectors import wearer_of
from server.api.authentication import MemberRequest
from server.api.members import StrictSerializer, checked
from server.api.parsing import RawJSONParser, body_of
from server.api.preferring import MINIMAL, prefers
from server.api.rendering import FormatInAddress
from server.api.schema import WEAR_RECORD, refuses
from server.core.errors import Conflict, Invalid, NotFound
from server.core.glucose import UNITS
from server.core.idempotency import answering
from server.core.selectors import sensor_models
from server.curation.replies import answer_question, appeal
from server.curation.standing import standing_of
from server.groups.selectors import group_for_giving
from server.held import ended_early_of
from server.wears import rendering, selectors, services
from server.wears.intake import UploadResult, accepting
from server.wears.transitions import STATES

if TYPE_CHECKING:
    from server.accounts.models import Account

IDEMPOTENCY_KEY = OpenApiParameter(
    "Idempotency-Key",
    str,
    OpenApiParameter.HEADER,
    required=True,
    description="Any text of at most 128 characters, new for each new request: a retry with it gets the first answer.",
)
# In a header and not in the address: addresses end up in logs, and this one is a person.
WEARER = OpenApiParameter(
    "Wearer",
    UUID,
    OpenApiParameter.HEADER,
    description="Whose wear it is, by the id that GET /me/wearers/ gives; your own self if you leave it out.",
)
PREFER = OpenApiParameter(
    "Prefer",
    str,
    OpenApiParameter.HEADER,
    description="With return=minimal (RFC 7240) the answer names the findings and leaves the report to be read later.",
)

UNIT = OpenApiParameter(
    "unit", str, OpenApiParameter.QUERY, enum=UNITS, description="Of the words and charts; that of the record without."
)


class WearSerializer(serializers.Serializer[Any]):
    id = serializers.UUIDField()
    state = serializers.ChoiceField(choices=STATES, source="shown_state", help_text="As of the last edition date.")
    group = serializers.CharField(source="group.slug", allow_null=True)
    uploaded_month = serializers.DateField()
    site = serializers.CharField(source="header.site")
    sensor_model = serializers.CharField(source="header.sensor_model")
    worn_min = serializers.IntegerField(source="header.worn_min")
    end_reason = serializers.CharField(source="header.end_reason")


class WearListSerializer(serializers.Serializer[Any]):
    wears = WearSerializer(many=True)


class AskedSerializer(serializers.Serializer[Any]):
    code = serializers.CharField()
    words = serializers.CharField()
    answers = serializers.ListField(child=serializers.CharField(), help_text="What you can answer.")
    recorded = serializers.CharField(allow_null=True, help_text="What the record says now.")


class LeftOutWearSerializer(serializers.Serializer[Any]):
    code = serializers.CharField()
    words = serializers.CharField(help_text="Why it was left out, in plain words.")
    what_now = serializers.CharField()
    may_appeal = serializers.BooleanField()


class WearWithStandingSerializer(WearSerializer):
    asked = AskedSerializer(allow_null=True, help_text="What moderators ask about it; seen at once.")
    left_out = LeftOutWearSerializer(allow_null=True, help_text="Why it does not count, as of the last edition date.")
    ended_early = serializers.ListField(
        child=serializers.CharField(),
        help_text="Outcomes in which moderators have ended figures that may count it, before their date.",
    )
    n_looked = serializers.IntegerField(help_text="How many moderators looked at it before this month.")


class AnswerSerializer(StrictSerializer):
    answer = serializers.CharField(help_text="One of the answers that the question names.")
    value = serializers.CharField(required=False, max_length=60, help_text="What is right, with the answer corrected.")


class AppealSerializer(StrictSerializer):
    ground = serializers.CharField(help_text="Why it should be looked at again, from the list.")


class UploadedSerializer(WearSerializer):
    report = serializers.DictField(help_text="What the wear says, its findings, and what one wear cannot say.")


class FindingSerializer(serializers.Serializer[Any]):
    code = serializers.CharField()
    severity = serializers.CharField()
    seen = serializers.CharField()
    why = serializers.CharField()
    do = serializers.CharField()


class KeptSerializer(WearSerializer):
    findings = FindingSerializer(many=True, help_text="What is worth a look, as the report has it.")
    report_at = serializers.CharField(help_text="Where to read the report, which is worked out when it is read.")


UPLOADED = PolymorphicProxySerializer("UploadAnswer", (UploadedSerializer, KeptSerializer), None)


class GiveSerializer(StrictSerializer):
    group = serializers.SlugField(help_text="The short name of a group you belong to, or everyone.")


class LicensedSiteSerializer(serializers.Serializer[Any]):
    site = serializers.CharField()
    ages = serializers.CharField()


class SensorModelSerializer(serializers.Serializer[Any]):
    slug = serializers.CharField()
    rated_life_days = serializers.FloatField()
    licensed_sites = LicensedSiteSerializer(many=True)
    algorithm_generation = serializers.IntegerField()
    open = serializers.BooleanField()


class SensorModelsSerializer(serializers.Serializer[Any]):
    sensor_models = SensorModelSerializer(many=True)


class Wears(APIView):
    parser_classes = (RawJSONParser,)

    @extend_schema(operation_id="wears_list", responses=WearListSerializer)
    def get(self, request: MemberRequest) -> Response:
        """List your wears."""
        return Response(WearListSerializer({"wears": selectors.wears_of(request.user)}).data)

    @extend_schema(
        operation_id="wear_upload",
        parameters=[IDEMPOTENCY_KEY, WEARER, PREFER],
        request={"application/json": WEAR_RECORD},
        responses={201: UPLOADED},
    )
    @refuses(NotFound, Conflict)
    def post(self, request: MemberRequest) -> Response:
        """Upload one finished wear as a wear-record/1 (its schema: /api/v1/wear-record.schema.json)."""
        key, wearer = (request.headers.get(name, "") for name in ("Idempotency-Key", "Wearer"))
        with uploading([key], account=request.user) as upload:
            uploaded = upload(body_of(request), key=key, wearer=wearer)
        if prefers(request, MINIMAL):
            return Response(uploaded.content, uploaded.status, headers={"Preference-Applied": MINIMAL})
        return Response(with_report(uploaded.content, account=request.user), uploaded.status)


@dataclass(frozen=True, slots=True)
class Uploaded:
    """The answer to an upload, and whether it was stored by this request or by an earlier one with the same key."""

    status: int
    content: dict[str, Any]
    is_new: bool


class Upload(Protocol):
    """Takes one wear record as it came, once for each key; `wearer` is what the request named, empty for oneself."""

    def __call__(self, raw: bytes, *, key: str, wearer: str) -> Uploaded: ...


@contextmanager
def uploading(sent: Iterable[str], *, account: "Account") -> Iterator[Upload]:
    """A transaction in which records with these keys are uploaded, each taken or refused by itself."""
    named = cache(partial(named_wearer, account))
    with answering(sent, account_id=account.id) as answers, accepting(account) as intake:

        def upload(raw: bytes, *, key: str, wearer: str) -> Uploaded:
            body = f"{wearer}\n".encode() + raw
            if before := answers.given(key, body):
                return Uploaded(*before, is_new=False)
            taken = intake.take(raw, wearer=named(wearer))
            return Uploaded(*answers.keep(key, body, (status.HTTP_201_CREATED, _kept(taken))), is_new=True)

        yield upload


_ANY_WEAR: Final = WearSerializer()  # one that is made anew for each wear copies all of its fields first


def _kept(taken: UploadResult) -> dict[str, Any]:
    return {
        **_ANY_WEAR.to_representation(taken.wear),
        "findings": to_builtins(taken.findings),
        "report_at": reverse("wear-report", args=[taken.wear.pk]),
    }


def with_report(kept: Mapping[str, Any], *, account: "Account") -> dict[str, Any]:
    """The answer with the report in it, worked out anew; its findings are those of the upload however often it is."""
    own = dict(kept)
    findings, _where = own.pop("findings"), own.pop("report_at")
    report = selectors.report_for_owner(UUID(str(own["id"])), account=account, findings=findings)
    return own | {"report": report}


def named_wearer(account: "Account", named: str) -> Any:
    """The wearer that a request named, the account's own self where it named none."""
    try:
        return wearer_of(account, UUID(named) if named else None)
    except ValueError:
        raise Invalid("The wearer is named by the id that GET /api/v1/me/wearers/ gives.") from None


class WearDetail(APIView):
    @extend_schema(operation_id="wear_read", responses=WearWithStandingSerializer)
    def get(self, request: MemberRequest, wear_id: UUID) -> Response:
        """Read one of your wears, with what moderators ask about it, or why it was left out."""
        return answered_wear(selectors.wear_for_owner(wear_id, account=request.user), request.user)

    @extend_schema(operation_id="wear_erase", responses={204: None})
    def delete(self, request: MemberRequest, wear_id: UUID) -> Response:
        """Erase a wear: readings, summary and the link to you are gone at once."""
        services.erase_wear(wear_id, account=request.user)
        return Response(status=status.HTTP_204_NO_CONTENT)


def answered_wear(wear: Any, account: "Account") -> Response:
    """A wear of one's own with where it stands."""
    standing = standing_of(wear)
    shown = WearSerializer(wear).data
    shown["asked"] = None if standing.asked is None else AskedSerializer(standing.asked).data
    shown["n_looked"] = standing.n_looked
    shown["left_out"] = None if standing.left_out is None else LeftOutWearSerializer(standing.left_out).data
    shown["ended_early"] = ended_early_of(wear, account=account)
    return Response(shown)


class WearAnswer(APIView):
    @extend_schema(operation_id="wear_answer", request=AnswerSerializer, responses=WearWithStandingSerializer)
    @refuses(Conflict)
    def post(self, request: MemberRequest, wear_id: UUID) -> Response:
        """Answer what moderators ask about one of your wears; a tag that was wrong is put right."""
        sent = checked(AnswerSerializer, request)
        answer_question(wear_id, account=request.user, answer=sent["answer"], value=sent.get("value"))
        return answered_wear(selectors.wear_for_owner(wear_id, account=request.user), request.user)


class WearAppeal(APIView):
    @extend_schema(operation_id="wear_appeal", request=AppealSerializer, responses=WearWithStandingSerializer)
    @refuses(Conflict)
    def post(self, request: MemberRequest, wear_id: UUID) -> Response:
        """Have a wear that was left out looked at again, once. What was counted of it stays as it is either way."""
        appeal(wear_id, account=request.user, ground=checked(AppealSerializer, request)["ground"])
        return answered_wear(selectors.wear_for_owner(wear_id, account=request.user), request.user)


class WearReport(APIView):
    @extend_schema(operation_id="wear_report", parameters=[UNIT], responses=OpenApiTypes.OBJECT)
    @refuses(Invalid)
    def get(self, request: MemberRequest, wear_id: UUID) -> Response:
        """Read what a wear says and what it cannot say. Figures are in mg/dL, words in the unit you name."""
        return Response(selectors.report_for_owner(wear_id, account=request.user, unit=_unit(request)))


class WearReportFile(APIView):
    content_negotiation_class = FormatInAddress

    @extend_schema(
        operation_id="wear_report_file",
        parameters=[
            UNIT,
            OpenApiParameter("file_format", enum=rendering.REPORT_FORMATS, location=OpenApiParameter.PATH),
        ],
        responses={(200, "text/html"): OpenApiTypes.STR, (200, "image/png"): OpenApiTypes.BINARY},
    )
    @refuses(Invalid)
    def get(self, request: MemberRequest, wear_id: UUID, file_format: str) -> HttpResponse:
        """Download the report as a page that needs nothing else, or as one picture."""
        file = rendering.report_file(wear_id, account=request.user, file_format=file_format, unit=_unit(request))
        response = HttpResponse(file.content, content_type=file.media_type)
        response["Content-Disposition"] = f'attachment; filename="{file.name}"'
        return response


def _unit(request: Request) -> str | None:
    """The unit named in the address; None for that of the record."""
    named = request.query_params.get("unit")
    if named is not None and named not in UNITS:
        raise Invalid(f"A unit is {' or '.join(UNITS)}, spelled so.")
    return named


class WearGroup(APIView):
    @extend_schema(operation_id="wear_give", request=GiveSerializer, responses=WearSerializer)
    @refuses(Conflict)
    def put(self, request: MemberRequest, wear_id: UUID) -> Response:
        """Give a wear to a group."""
        group = group_for_giving(checked(GiveSerializer, request)["group"], request.user)
        return Response(WearSerializer(services.give_to_group(wear_id, account=request.user, group=group)).data)

    @extend_schema(operation_id="wear_take_back", responses={204: None})
    def delete(self, request: MemberRequest, wear_id: UUID) -> Response:
        """Take a wear back.

        One that has not been counted is private again and never enters. One that has been counted is erased at once;
        sums of at least five people that already count it end on their date.
        """
        services.take_back(wear_id, account=request.user)
        return Response(status=status.HTTP_204_NO_CONTENT)


class SensorModels(APIView):
    permission_classes = (AllowAny,)
    authentication_classes = ()

    @extend_schema(operation_id="sensor_models_read", responses=SensorModelsSerializer, auth=[])
    def get(self, _request: Request) -> Response:
        """The catalogue of sensor models."""
        return Response(SensorModelsSerializer({"sensor_models": sensor_models()}).data)


class RecordSchema(APIView):
    permission_classes = (AllowAny,)
    authentication_classes = ()

    @extend_schema(operation_id="wear_record_schema", responses=OpenApiTypes.OBJECT, auth=[])
    def get(self, _request: Request) -> Response:
        """The JSON Schema of a wear record: every field with its purpose, who sees it, and how long it is kept."""
        return Response(selectors.record_schema_document())


urlpatterns: list[URLPattern] = [
    path("wears/", Wears.as_view(), name="wears"),
    path("wears/<uuid:wear_id>/", WearDetail.as_view(), name="wear"),
    path("wears/<uuid:wear_id>/report/", WearReport.as_view(), name="wear-report"),
    path("wears/<uuid:wear_id>/report.<slug:file_format>", WearReportFile.as_view(), name="wear-report-file"),
    path("wears/<uuid:wear_id>/answer/", WearAnswer.as_view(), name="wear-answer"),
    path("wears/<uuid:wear_id>/appeal/", WearAppeal.as_view(), name="wear-appeal"),
    path("wears/<uuid:wear_id>/group/", WearGroup.as_view(), name="wear-group"),
    path("sensor-models/", SensorModels.as_view(), name="sensor-models"),
    path("wear-record.schema.json", RecordSchema.as_view(), name="wear-record-schema"),
]
