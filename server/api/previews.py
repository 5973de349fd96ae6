"""Looking at exports before anything is kept."""

from typing import Any

from django.urls import URLPattern, path
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.response import Response
from rest_framework.views import APIView

from server.accounts.throttles import count_try
from server.api.authentication import MemberRequest
from server.api.parsing import FilesParser, RawJSONParser, body_of, parts_of
from server.api.schema import WEAR_RECORD, refuses
from server.api.wears import WEARER, named_wearer
from server.core.errors import Fault, Invalid, NotFound, TooMany
from server.wears import previews

PARTS = ("file", "told")


class ExportsSerializer(serializers.Serializer[Any]):
    refuses_unknown = True

    file = serializers.ListField(
        child=serializers.FileField(),
        help_text=f"The exports as they are, 1 to {previews.MOST_FILES}: a sensor's, a meter's, or a typed sheet.",
    )
    told = serializers.CharField(
        required=False, help_text="JSON with exports (mapping and sheet of each), answers, and fields of the record."
    )


class ReadExportSerializer(serializers.Serializer[Any]):
    mapping = serializers.DictField(help_text="What each column seems to be.")
    remembered = serializers.BooleanField(help_text="Whether you confirmed this layout before.")
    preview = serializers.ListField(
        child=serializers.ListField(child=serializers.CharField()), help_text="The header and the first rows."
    )


class QuestionSerializer(serializers.Serializer[Any]):
    export = serializers.IntegerField(allow_null=True, help_text="The place of the file, from 0; null for all.")
    code = serializers.CharField(help_text="Where the answer goes.")
    text = serializers.CharField()
    options = serializers.ListField(child=serializers.CharField())
    lines = serializers.ListField(child=serializers.IntegerField())
    blocking = serializers.BooleanField(help_text="Whether wears wait for the answer.")


class PreviewedWearSerializer(serializers.Serializer[Any]):
    # The framework takes fields out of the class before its own `label` is looked for.
    label = serializers.CharField()  # type: ignore[assignment]
    record = serializers.DictField(help_text="A wear-record/1 as far as it is known, with its pairs.")
    faults = serializers.ListField(child=serializers.DictField(), help_text="What an upload of it would name.")
    unmatched = serializers.ListField(
        child=serializers.DictField(), help_text="Fingersticks without a pair: line, reason, and the reason in words."
    )
    clocks = serializers.DictField(allow_null=True, help_text="What the readings say of the two clocks.")
    findings = serializers.ListField(child=serializers.DictField(), help_text="What looks odd.")
    report = serializers.DictField(allow_null=True, help_text="The report, once the record has no fault.")


class PreviewSerializer(serializers.Serializer[Any]):
    complete = serializers.BooleanField(help_text="Whether no question stands open that the wears depend on.")
    exports = ReadExportSerializer(many=True, help_text="One for each file; null while its sheet is asked about.")
    questions = QuestionSerializer(many=True)
    wears = PreviewedWearSerializer(many=True)


class Preview(APIView):
    parser_classes = (RawJSONParser, FilesParser)

    @extend_schema(
        operation_id="wears_preview",
        parameters=[WEARER],
        request={"multipart/form-data": ExportsSerializer, "application/json": WEAR_RECORD},
        responses=PreviewSerializer,
    )
    @refuses(NotFound, TooMany)
    def post(self, request: MemberRequest) -> Response:
        """See what exports, or a record, would become: nothing is stored.

        As multipart, exports with what has been told so far; as JSON, a wear record as it would be uploaded.
        """
        count_try("preview", str(request.user.id))
        wearer = named_wearer(request.user, request.headers.get("Wearer", ""))
        if request.content_type.partition(";")[0].strip().lower() == RawJSONParser.media_type:
            return Response(previews.preview_of_record(body_of(request), account=request.user, wearer=wearer))
        parts = parts_of(request)
        unknown = sorted(set(parts) - set(PARTS))
        if unknown:
            faults = [Fault(pointer=f"#/{name}", message="There is no such part.") for name in unknown]
            raise Invalid("Nothing was done.", faults=faults)
        files = [previews.File(part.read(), part.name) for part in request.FILES.getlist("file")]
        told = str(parts.get("told", "{}")).encode()
        return Response(previews.preview_of_exports(files, told, account=request.user, wearer=wearer))


urlpatterns: list[URLPattern] = [path("wears/preview/", Preview.as_view(), name="wears-preview")]
