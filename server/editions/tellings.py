"""What a document would tell by its counts, beside all editions there have been: looked at before it may appear."""

import json
from collections.abc import Iterator, Mapping, Sequence
from typing import Any
from uuid import UUID

from pooling import audit
from pooling.errors import InvalidInput
from server.core.outcomes import Family
from server.editions.models import Edition
from server.groups.models import K_FLOOR

COUNTED: tuple[str, ...] = ("sites", "sites_by_model")
ROUNDED_TO, OFF_BY = 5, 2
OTHER_PLACE = "other"
Resting = Mapping[str, Sequence[str]]
Document = Mapping[str, Any]


def told_too_closely(document: Document, resting: Resting) -> tuple[str, ...]:
    """Why the document must not appear; empty where its counts tell no other number.

    By itself it must not tell a number of wears in a cell without a count to within five, nor how many people are in
    both cells of a place. Beside all editions of all groups it must not tell a number of wears below k: in such a cell,
    or among what came or ended since an edition, or counts in one group's figures and not in another's.
    """
    try:
        return tuple(_reasons(document, resting))
    except InvalidInput:
        return ("the counts that are published contradict one another",)


def _reasons(document: Document, resting: Resting) -> Iterator[str]:
    cells, own = _cells(resting), list(_wears(document, resting))
    yield from audit.wears_told(own, cells.values(), k=K_FLOOR).reasons()
    yield from audit.people_told(list(_shared(document, cells)), k=K_FLOOR).reasons()
    editions = _published()
    asked = [*cells.values()]
    for *_, (_, latest) in editions.values():
        before = _cells(latest)
        for cell in {*cells, *before}:
            now, then = cells.get(cell, frozenset()), before.get(cell, frozenset())
            asked += [now - then, then - now]
    earlier = [telling for each in editions.values() for one in each for telling in _wears(*one)]
    few = audit.wears_told([*earlier, *own], asked, k=K_FLOOR, only_few=True)
    if few.n_pinned:
        yield f"beside earlier editions, {few.n_pinned} numbers of wears below {K_FLOOR} can be told"


def _published() -> dict[UUID, list[tuple[Document, Resting]]]:
    """Of each group, its editions from the first to the latest."""
    found: dict[UUID, list[tuple[Document, Resting]]] = {}
    for group, content, resting in Edition.objects.order_by("slot").values_list("group_id", "document", "rests_on"):
        found.setdefault(group, []).append((json.loads(bytes(content)), resting))
    return found


def _cells(resting: Resting) -> dict[tuple[str, str], frozenset[str]]:
    """The sums of each place and sensor model that figures of accuracy rest on."""
    named = ((cell.split("|"), records) for cell, records in resting.items())
    return {
        (place, model): frozenset(records) for (family, place, model), records in named if family == Family.ACCURACY
    }


def _wears(document: Document, resting: Resting) -> Iterator[audit.Telling]:
    cells = _cells(resting)
    for table in COUNTED:
        for row in document["tables"][table]:
            if row.get("n_wears") is not None:
                number = row["n_wears"]["value"]
                # A number that is no multiple of five was not rounded to one.
                off_by = OFF_BY if number % ROUNDED_TO == 0 else 0
                yield audit.Telling(_records(row, cells), number - off_by, number + off_by)


def _records(row: Document, cells: Mapping[tuple[str, str], frozenset[str]]) -> frozenset[str]:
    place, model = _place(row), row["sensor_model"]
    return frozenset().union(*(own for (at, of), own in cells.items() if at == place and model in (None, of)))


def _place(row: Document) -> str:
    return str(row["site"] or row["region"] or OTHER_PLACE)


def _shared(document: Document, cells: Mapping[tuple[str, str], frozenset[str]]) -> Iterator[audit.Shared]:
    """Places with two cells, both of them shown: how many people are in both must not be told."""
    by_model = {(_place(row), row["sensor_model"]): row for row in document["tables"]["sites_by_model"]}
    for row in document["tables"]["sites"]:
        own = [cell for cell in cells if cell[0] == _place(row)]
        if len(own) == 2 and all(cell in by_model for cell in own):
            # Of people in one cell or the other the fit knows a lower bound only, and a row tells no more.
            either = row["people"]["at_least"], float("inf")
            yield audit.Shared(_ends(by_model[own[0]]), _ends(by_model[own[1]]), either)


def _ends(row: Document) -> tuple[float, float]:
    band = row["people"]
    return band["at_least"], float("inf") if band["below"] is None else band["below"] - 1
