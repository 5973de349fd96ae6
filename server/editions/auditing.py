"""Everything ever sealed, as the auditor reads it, and what published figures rest on."""

import uuid
from collections.abc import Iterator, Mapping
from dataclasses import replace
from itertools import chain

from django.db.models import QuerySet

from pooling import audit
from pooling.hierarchy import CHANNELS
from server.core.outcomes import Family
from server.editions.models import Draft, Edition, Place, RecordKind, SealedRecord, TieSeat
from server.editions.scopes import scopes_read_by
from server.groups.models import K_FLOOR, Group

WEIGHED = CHANNELS.index("direct")
"""The channel by whose weights sums are looked at too; its place in the weights of a place."""
_WEIGHED = "weighed "

Seats = dict[uuid.UUID, dict[uuid.UUID, str]]
"""Per linker, the label of the place in each block."""
Weights = Mapping[str, tuple[float, float]]
"""Per label, the weight of the place in its block and within its person, where the block has not ended."""


def verdict_on(group: Group, person_of: Mapping[str, str]) -> audit.Verdict:
    """The auditor's word on all sums ever sealed, and on what `group` would show beside all editions there have been.

    Each sum is held to the k that its people gave their wears under: k can be raised, and what was sealed before stays.
    """
    rows = audit_rows()
    people = {**person_of, **{_WEIGHED + label: person for label, person in person_of.items()}}
    verdict = audit.audit(rows, people, k=K_FLOOR)
    blocks = [row for row in rows if row.kind == RecordKind.BLOCK]
    changed = audit.changes([*_shown(), *_versions(group.pk, resting_on(group))], blocks, people, k=K_FLOOR)
    reasons = tuple(sorted({*verdict.reasons, *changed.reasons()}))
    return replace(verdict, passed=not reasons, reasons=reasons)


def resting_on(group: Group) -> dict[str, list[str]]:
    """For each cell of the group's figures, the blocks that an edition would rest on now."""
    found: dict[str, list[str]] = {}
    blocks = SealedRecord.objects.filter(
        kind=RecordKind.BLOCK, scope__in=scopes_read_by(group), payload__isnull=False
    ).order_by("id")
    for record, family, place, model in blocks.values_list("id", "family", "place", "sensor_model"):
        found.setdefault(f"{family}|{place}|{model or '*'}", []).append(str(record))
    return found


def _shown() -> set[audit.Version]:
    """What moderators or readers have seen: drafts from the moment they could be looked at, whatever became of them."""
    found = chain(
        *(model.objects.exclude(rests_on={}).values_list("group_id", "rests_on") for model in (Draft, Edition))
    )
    return {version for group, resting in found for version in _versions(group, resting)}


def _versions(group: uuid.UUID, resting: Mapping[str, list[str]]) -> Iterator[audit.Version]:
    for cell, records in resting.items():
        yield audit.Version(f"{group}|{cell}", frozenset(records))


def n_audited() -> int:
    """How many sums of values were ever sealed."""
    return _sums().count()


def _sums() -> QuerySet[SealedRecord]:
    return SealedRecord.objects.exclude(kind=RecordKind.OVERLAP).order_by("id")


def audit_rows() -> list[audit.AuditRow]:
    """Every sum of values ever sealed in any group, open or ended, by the labels of the people in it.

    The sums of a bundle are of other values than those of a block, so its places have labels of their own; a tie holds
    the values of its linkers' places again. Sums are shown with weights of 1, where they cancel most easily and which
    outlive the weights that were used, and those that have not ended with their weights too, as values of their own.
    """
    labels: dict[uuid.UUID, list[str]] = {}
    weights: dict[str, tuple[float, float]] = {}
    for record, label, q1, q2 in Place.objects.order_by("label").values_list("record_id", "label", "q1", "q2"):
        labels.setdefault(record, []).append(str(label))
        if len(q1) > WEIGHED:
            weights[str(label)] = (q1[WEIGHED], q2[WEIGHED])
    seats = _seats_by_tie()
    rows: list[audit.AuditRow] = []
    sums = _sums().values_list("id", "kind", "family", "k", "payload__n_people")
    for record, kind, family, k, n_people in sums:
        if kind == RecordKind.TIE:
            found = [*tie_rows(str(record), seats[record])]
            found += tie_rows(_WEIGHED + str(record), seats[record], weights) if family == Family.ACCURACY else []
        else:
            own = labels.get(record, [])
            found = [audit.AuditRow(str(record), kind, tuple(own), n_people=n_people)]
            if family == Family.ACCURACY and kind == RecordKind.BLOCK and set(own) <= weights.keys():
                found.append(_weighed(str(record), own, weights))
        rows += [replace(row, k=k) for row in found]
    return rows


def _weighed(record: str, labels: list[str], weights: Weights) -> audit.AuditRow:
    atoms = tuple(_WEIGHED + label for label in labels)
    return audit.AuditRow(
        _WEIGHED + record, _WEIGHED + RecordKind.BLOCK, atoms, tuple(weights[label][0] for label in labels)
    )


def _seats_by_tie() -> dict[uuid.UUID, Seats]:
    ties: dict[uuid.UUID, Seats] = {}
    seats = TieSeat.objects.order_by("id").values_list("record_id", "linker", "place__record_id", "place_id")
    for tie, linker, block, label in seats:
        ties.setdefault(tie, {}).setdefault(linker, {})[block] = str(label)
    return ties


def tie_rows(record: str, seats: Seats, weights: Weights | None = None) -> list[audit.AuditRow]:
    """One sum a cell: how far each linker lies there from the linker's own mean over the cells of the tie.

    With weights only where all of them are still known, as values of their own.
    """
    if weights is not None and not {label for own in seats.values() for label in own.values()} <= weights.keys():
        return []
    rows: dict[uuid.UUID, dict[str, float]] = {}
    for own in seats.values():
        weight = {label: weights[label][1] if weights else 1.0 for label in own.values()}
        total = sum(weight.values())
        for block, label in own.items():
            row = rows.setdefault(block, {})
            for other in own.values():
                name = _WEIGHED + other if weights else other
                row[name] = weight[label] * (float(label == other) - weight[other] / total)
    kind = _WEIGHED + RecordKind.TIE if weights else RecordKind.TIE
    return [
        audit.AuditRow(f"{record} at {number}", kind, tuple(sorted(row)), tuple(row[atom] for atom in sorted(row)))
        for number, (_, row) in enumerate(sorted(rows.items()))
    ]
