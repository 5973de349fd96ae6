"""Many wears in one request: each is stored or refused by itself, as if it had been sent alone."""

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any, Final

from django.urls import URLPattern, path
from drf_spectacular.utils import extend_schema
from msgspec import Raw, Struct
from rest_framework import serializers
from rest_framework.response import Response
from rest_framework.views import APIView

from server.api.authentication import MemberRequest
from server.api.parsing import RawJSONParser, body_of
from server.api.schema import WearRecordField
from server.api.wears import WEARER, KeptSerializer, Upload, uploading
from server.core.decoding import decoded
from server.core.errors import Fault, Invalid, ServiceError
from server.core.idempotency import LONGEST_KEY
from server.core.problems import problem_of

if TYPE_CHECKING:
    from server.accounts.models import Account

MOST_AT_ONCE: Final = 50
STORED, ALREADY_STORED, REFUSED = VERDICTS = ("stored", "already_stored", "refused")
NOTHING_KEPT: Final = "This item has faults; nothing of it was kept."


class Envelope(Struct, frozen=True, forbid_unknown_fields=True):
    wears: list[Raw]


class Item(Struct, frozen=True, forbid_unknown_fields=True):
    """One wear of a batch. The record stays as it came, so that it is the same request when it is sent alone."""

    key: str
    record: Raw
    wearer: str = ""


class ItemSerializer(serializers.Serializer[Any]):
    refuses_unknown = True

    key = serializers.CharField(help_text="What the header Idempotency-Key is for a single upload.")
    record = WearRecordField(help_text="A wear-record/1.")
    wearer = serializers.UUIDField(required=False, help_text="Whose wear it is; else the one of the header Wearer.")


class BatchSerializer(serializers.Serializer[Any]):
    refuses_unknown = True

    wears = ItemSerializer(many=True, help_text=f"At most {MOST_AT_ONCE}.")


class VerdictSerializer(serializers.Serializer[Any]):
    pointer = serializers.CharField(help_text="Which item of the request this is about.")
    verdict = serializers.ChoiceField(choices=VERDICTS)
    status = serializers.IntegerField(help_text="The status that the item would have had alone.")
    wear = KeptSerializer(required=False, help_text="The wear and its findings, unless it was refused.")
    problem = serializers.DictField(required=False, help_text="Why it was refused; faults point into the request.")


class VerdictsSerializer(serializers.Serializer[Any]):
    verdicts = VerdictSerializer(many=True, help_text="One for each item, in their order.")


class Batch(APIView):
    parser_classes = (RawJSONParser,)

    @extend_schema(
        operation_id="wears_upload_batch",
        parameters=[WEARER],
        request=BatchSerializer,
        responses=VerdictsSerializer,
    )
    def post(self, request: MemberRequest) -> Response:
        """Upload many finished wears. One bad record does not stop the others; nothing is half stored."""
        named = request.headers.get("Wearer", "")
        return Response({"verdicts": verdicts_on(body_of(request), account=request.user, named=named)})


def verdicts_on(body: bytes, *, account: "Account", named: str = "") -> list[dict[str, Any]]:
    """What becomes of each item; `named` is whose wears they are where an item does not say."""
    read = [_read(raw) for raw in _items(body)]
    keys = [item.key for item in read if isinstance(item, Item)]
    with uploading(keys, account=account) as upload:
        return [_verdict(f"#/wears/{index}", item, upload, named) for index, item in enumerate(read)]


def _items(body: bytes) -> list[Raw]:
    envelope = decoded(body, Envelope)
    if len(envelope.wears) > MOST_AT_ONCE:
        message = f"A batch holds at most {MOST_AT_ONCE} wears. Send the rest in another one."
        raise Invalid("Nothing was done.", faults=[Fault(pointer="#/wears", message=message)])
    return envelope.wears


def _read(raw: Raw) -> Item | Invalid:
    try:
        return _item(raw)
    except Invalid as fault:
        return fault


def _verdict(place: str, item: Item | Invalid, upload: Upload, named: str) -> dict[str, Any]:
    if isinstance(item, Invalid):
        return _refused(item, place, inside=place)
    try:
        uploaded = upload(bytes(item.record), key=item.key, wearer=item.wearer or named)
    except ServiceError as error:
        return _refused(error, place, inside=f"{place}/record")
    verdict = STORED if uploaded.is_new else ALREADY_STORED
    return {"pointer": place, "verdict": verdict, "status": uploaded.status, "wear": uploaded.content}


def _refused(error: ServiceError, place: str, *, inside: str) -> dict[str, Any]:
    told = problem_of(error) | {"faults": list(_faults(error, place, inside))}
    del told["caution"]  # it stands once, beside the verdicts
    return {"pointer": place, "verdict": REFUSED, "status": error.status, "problem": told}


def _item(raw: Raw) -> Item:
    item = decoded(bytes(raw), Item, detail=NOTHING_KEPT)
    if not 1 <= len(item.key) <= LONGEST_KEY:
        message = f"Give each item a key of 1 to {LONGEST_KEY} characters, a new one for each new wear."
        raise Invalid(NOTHING_KEPT, faults=[Fault(pointer="#/key", message=message)])
    return item


def _faults(error: ServiceError, place: str, inside: str) -> Iterator[Fault]:
    """The faults with pointers that start at the body of the request; a refusal as a whole is one, too."""
    if not error.faults:
        yield Fault(pointer=place, message=error.detail)
    for fault in error.faults:
        yield {**fault, "pointer": inside + fault["pointer"].removeprefix("#")}


urlpatterns: list[URLPattern] = [path("wears/batch/", Batch.as_view(), name="wears-batch")]
