"""Everything held about the member who asks: one document, and the readings as a table."""

from django.http import HttpResponse
from django.urls import URLPattern, path
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import serializers
from rest_framework.response import Response
from rest_framework.views import APIView

from server.api.authentication import MemberRequest
from server.core.errors import NotFound
from server.held import everything_about
from server.wears.holdings import readings_csv

LISTS = {
    "consents": "Each switch turned, in order.",
    "wearers": "The people you keep wears for.",
    "column_mappings": "What is remembered about the columns of your exports.",
    "plans": "Fair tests that you have registered.",
    "groups": "What you belong to, and the pseudonym under which moderators see you there.",
    "rounds": "The joint rounds you take part in, with the order drawn for you.",
    "wears": "Each wear with its record, its readings as long as they are kept, and what was worked out from them.",
    "decisions": "What moderators asked and decided about your wears.",
    "looks": "How many moderators looked at which of your wears before this month.",
    "places": "For which sums it stays noted that you have a place in them; no value of theirs.",
    "answers_kept": "Days of uploads whose answer is kept for a repetition.",
}
ExportSerializer = type(
    "ExportSerializer",
    (serializers.Serializer,),
    {"account": serializers.DictField()}
    | {name: serializers.ListField(help_text=words) for name, words in LISTS.items()},
)


class Export(APIView):
    @extend_schema(operation_id="member_export", responses=ExportSerializer)
    def get(self, request: MemberRequest) -> Response:
        """Take along everything that is held about you."""
        return Response(
            everything_about(request.user), headers={"Content-Disposition": 'attachment; filename="mine.json"'}
        )


class ExportTable(APIView):
    @extend_schema(
        operation_id="member_export_table",
        parameters=[OpenApiParameter("table", enum=["readings"], location="path")],
        responses={(200, "text/csv"): OpenApiTypes.STR},
    )
    def get(self, request: MemberRequest, table: str) -> HttpResponse:
        """Take along your readings as CSV; the caution stands on every line."""
        if table != "readings":
            raise NotFound("There is one table: readings.csv.")
        account = request.user
        return HttpResponse(
            readings_csv(account),
            content_type="text/csv; charset=utf-8",
            headers={"Content-Disposition": 'attachment; filename="readings.csv"'},
        )


urlpatterns: list[URLPattern] = [
    path("me/export/", Export.as_view(), name="export"),
    path("me/export/<slug:table>.csv", ExportTable.as_view(), name="export-table"),
]
