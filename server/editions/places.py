"""What stands in the pool under labels that only an account knows: for the owner's copy of everything held."""

from collections import Counter
from collections.abc import Iterable
from typing import Any
from uuid import UUID

from pooling.ledger import CellKey
from server.core.chunks import chunks
from server.core.outcomes import Family
from server.editions.models import Place, RecordKind, SealedRecord, TieSeat
from server.editions.slots import next_to_seal


def places_under(labels: Iterable[UUID]) -> list[dict[str, Any]]:
    """What stands in the pool under these labels: for which sums they count places, and nothing of what these say."""
    places = [
        place
        for chunk in chunks(labels)
        for place in Place.objects.filter(label__in=chunk).select_related("record").order_by("label")
    ]
    ties = Counter(
        seat
        for chunk in chunks(labels)
        for seat in TieSeat.objects.filter(place__in=chunk).values_list("place", flat=True)
    )
    return [
        {
            "label": place.label,
            "sums_of": place.record.kind,
            "outcome": place.record.family,
            "scope": place.record.scope,
            "place": place.record.place,
            "sensor_model": place.record.sensor_model,
            "sums_end_at_cut_off": place.record.end_bucket,
            "ended_early": _has_ended_early(place.record, next_to_seal()),
            "n_wears": place.n_wears,
            "weights": {"q1": place.q1, "q2": place.q2},
            "n_ties": ties[place.label],
        }
        for place in places
    ]


def _has_ended_early(record: SealedRecord, following: int) -> bool:
    """Whether moderators ended sums before their date; nothing else does, whoever leaves."""
    return record.payload is None and record.end_bucket >= following


def outcomes_ended_early(labels: Iterable[UUID], *, site: str, sensor_model: str) -> list[str]:
    """In which outcomes sums that may count such a wear of theirs were ended by moderators before their date.

    Which of the places is of which wear stands nowhere, so it is said of all that a place could hold.
    """
    following = next_to_seal()
    places = [
        place
        for chunk in chunks(labels)
        for place in Place.objects.filter(label__in=chunk, record__kind=RecordKind.BLOCK).select_related("record")
    ]
    ended = {
        place.record.family
        for place in places
        if _has_ended_early(place.record, following)
        and CellKey(place.record.scope, place.record.place, place.record.sensor_model).could_hold(site, sensor_model)
    }
    return [family for family in Family.values if family in ended]
