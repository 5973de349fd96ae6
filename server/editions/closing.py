"""When sums end: on the date fixed as they were made, or at the next cut-off if moderators end them early.

An early end names a site, a sensor model and an end, and takes every sum of the group in which such a wear could be
counted. It asks for no wear and no person, so it works whoever has left, and two histories that differ only in who left
end the same sums. At an end values and weights go; that the sums were there stays, for the auditor.
"""

import hmac
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Any, Final
from uuid import UUID

from django.db import transaction
from django.db.models import Q, QuerySet

from pooling import ledger
from pooling.ledger.plan import ways_in
from pooling.vocabulary import SITES, label
from server.core import journal, keys
from server.core.chunks import chunks
from server.core.errors import Conflict, Fault, Invalid
from server.core.outcomes import Family
from server.core.selectors import sensor_model_slugs
from server.curation.models import Decision
from server.curation.services import record_closing, require_reason
from server.editions.models import Closing, Place, RecordKind, SealedRecord
from server.editions.slots import OpenEnd, date_of, next_to_seal, open_ends
from server.groups.models import Group
from server.groups.permissions import Permission
from server.groups.selectors import require

if TYPE_CHECKING:
    from server.accounts.models import Account

ENDED_EARLY: Final = "ended-early"  # what the erasure journal calls it
OF_WHOLE_DATES: Final = (RecordKind.BETWEEN, RecordKind.WITHIN, RecordKind.KURTOSIS)
IN_WORDS: Final[Mapping[str, str]] = {
    Family.ACCURACY: "how far readings lie from fingersticks",
    Family.SURVIVAL: "days on the skin",
    Family.SKIN: "skin reactions",
    Family.EASE: "ease",
    Family.COMFORT: "comfort",
    Family.DISCRETION: "discretion",
}


@dataclass(frozen=True, slots=True)
class Asked:
    """What is to end early, and why."""

    site: str
    sensor_model: str
    end: int
    code: str
    families: tuple[str, ...] = tuple(Family.values)

    @property
    def text(self) -> str:
        """How it stands in the record of decisions."""
        return f"{self.site}|{self.sensor_model}|{self.end}|{','.join(self.families)}"


@dataclass(frozen=True, slots=True)
class Told:
    """What would end, in words and without a count, and the word that confirms having read it."""

    stops: str
    takes_effect_on: date
    confirm: str


@dataclass(frozen=True, slots=True)
class Closings:
    """What may be ended, and what will be at the next cut-off."""

    ends: tuple[OpenEnd, ...]
    due: tuple[Closing, ...]


def closings_for_moderator(group: Group, *, account: "Account") -> Closings:
    require(Permission.SUMS_END, group=group, account=account)
    due = Closing.objects.filter(scope=group.scope).order_by("site", "sensor_model", "end_bucket", "id")
    return Closings(tuple(open_ends()), tuple(due))


def tell_closing(group: Group, asked: Asked, *, by: "Account") -> Told:
    """Say how coarse an early end is, before anything is done."""
    require(Permission.SUMS_END, group=group, account=by)
    _check(asked)
    return Told(_in_words(group, asked), date_of(next_to_seal()), _word(group, asked, by=by))


@transaction.atomic
def close_sums(group: Group, asked: Asked, *, confirm: str, by: "Account") -> Decision:
    """End sums at the next cut-off, for a moderator who was told what that means; it cannot be undone."""
    require(Permission.SUMS_END, group=group, account=by)
    _check(asked)
    if not hmac.compare_digest(confirm.encode(), _word(group, asked, by=by).encode()):
        raise Conflict("This does not confirm what you were told. Ask again, read what would end, then confirm that.")
    decision = record_closing(group, closes=asked.text, code=asked.code, by=by)
    Closing.objects.create(
        scope=group.scope,
        site=asked.site,
        sensor_model=asked.sensor_model,
        end_bucket=asked.end,
        families=list(asked.families),
    )
    return decision


def _check(asked: Asked) -> None:
    faults = list(_faults(asked))
    if faults:
        raise Invalid("Name one site, one sensor model and one end, and nothing was ended.", faults=faults)
    require_reason(asked.code)


def _faults(asked: Asked) -> Iterable[Fault]:
    ends = [each.end for each in open_ends()]
    if asked.site not in SITES:
        yield Fault(pointer="#/site", message=f"Choose one of {', '.join(SITES)}.")
    if asked.sensor_model not in sensor_model_slugs():
        yield Fault(pointer="#/sensor_model", message="Name a sensor model of the catalogue.")
    if asked.end not in ends:
        yield Fault(pointer="#/end", message=f"Sums end at {', '.join(map(str, ends)) or 'no date yet'}.")
    if not asked.families or not set(asked.families) <= set(Family.values):
        yield Fault(pointer="#/families", message=f"Name one or more of {', '.join(Family.values)}.")


def _word(group: Group, asked: Asked, *, by: "Account") -> str:
    """Confirms this closing by this moderator, until the next cut-off."""
    told = f"{group.pk}|{by.pk}|{next_to_seal()}|{asked.code}|{asked.text}"
    return keys.mac("closing", told.encode()).hex()


def _in_words(group: Group, asked: Asked) -> str:
    ways = ways_in(group.scope, feeds_everyone=False, site=asked.site, sensor_model=asked.sensor_model)
    rows = "; ".join(
        f"{'other sites' if cell.place == ledger.OTHER_SITES else label(cell.place)}, "
        f"{'any sensor model' if cell.sensor_model is None else cell.sensor_model}"
        for _, cell in ways
    )
    figures = ", ".join(IN_WORDS[family] for family in asked.families)
    whose = f"{group.name} and of everyone" if group.feeds_everyone and not group.reserved else group.name
    return (
        f"Everything of {label(asked.site)} and sensor model {asked.sensor_model} that ends on "
        f"{date_of(asked.end).isoformat()} will stop counting in the figures of {whose}, whoever wore it and "
        f"however good it was. It goes wherever such a wear may be counted ({rows}), together with all else that is "
        f"counted there and ends on that date, and with what compares or spreads over it. Figures: {figures}. It takes "
        "effect at the next edition date, cannot be undone, and none of these wears comes back. Published editions "
        "stay."
    )


# At a cut-off


def end_records(slot: int) -> None:
    """What has come to its date, and what moderators have ended since the last cut-off."""
    _end(SealedRecord.objects.filter(end_bucket__lte=slot))
    for closing in Closing.objects.order_by("id"):
        for family in closing.families:
            _end_early(_reached(closing, family))
    Closing.objects.all().delete()


def _end_early(records: Iterable[UUID]) -> None:
    for chunk in chunks(records):
        _end(SealedRecord.objects.filter(pk__in=chunk))
        journal.note_marks(ENDED_EARLY, [journal.mark_of(ENDED_EARLY, record.bytes) for record in chunk])


@transaction.atomic
def end_noted(marks: frozenset[bytes]) -> int:
    """After a restore: what moderators had ended is ended again, though the copy's record of decisions may be older."""
    standing = SealedRecord.objects.filter(payload__isnull=False).values_list("pk", flat=True)
    noted = [record for record in standing if journal.mark_of(ENDED_EARLY, record.bytes) in marks]
    for chunk in chunks(noted):
        _end(SealedRecord.objects.filter(pk__in=chunk))
    return len(noted)


def _end(records: QuerySet[SealedRecord]) -> None:
    ended = records.filter(payload__isnull=False)
    Place.objects.filter(record__in=ended).update(n_wears=0, q1=[], q2=[])
    ended.update(payload=None)


def _reached(closing: Closing, family: str) -> list[UUID]:
    """The sums of one family that could hold such a wear, and those that rest on the same wears."""
    of_family = SealedRecord.objects.filter(family=family, payload__isnull=False)
    same = of_family.filter(scope=closing.scope, end_bucket=closing.end_bucket)
    blocks = [block.pk for block in same.filter(kind=RecordKind.BLOCK) if _could_hold(closing, _cell(block))]
    if not blocks:
        return []
    ties = [tie.pk for tie in same.filter(kind=RecordKind.TIE) if _touches(closing, _payload(tie)["cells"])]
    # A bundle of parts says its place, and none where it adds up several.
    parts = [
        part.pk for part in same.filter(kind=RecordKind.PARTS) if not part.place or _could_hold(closing, _cell(part))
    ]
    whole = list(same.filter(kind__in=OF_WHOLE_DATES).values_list("pk", flat=True))
    return [*blocks, *ties, *parts, *whole, *_shared(closing, of_family)]


def _shared(closing: Closing, of_family: QuerySet[SealedRecord]) -> list[UUID]:
    """What the cells share with others, of either scope: it ends with the earlier of two ends, and holds no value.

    Which of a cell's blocks is meant stands nowhere, so what other ends of the cell share goes too. To leave it would
    count more shared wearers than are left.
    """
    shared = of_family.filter(kind=RecordKind.OVERLAP, end_bucket__lte=closing.end_bucket)
    near = shared.filter(Q(scope=closing.scope) | Q(payload__other__scope=closing.scope))
    return [each.pk for each in near if _touches(closing, [_payload(each), _payload(each)["other"]])]


def _touches(closing: Closing, cells: Iterable[Mapping[str, Any]]) -> bool:
    return any(
        cell["scope"] == closing.scope
        and _could_hold(closing, ledger.CellKey(cell["scope"], cell["place"], cell["sensor_model"]))
        for cell in cells
    )


def _could_hold(closing: Closing, cell: ledger.CellKey) -> bool:
    return cell.could_hold(closing.site, closing.sensor_model)


def _payload(record: SealedRecord) -> Mapping[str, Any]:
    assert record.payload is not None  # what has ended is not looked at
    return record.payload


def _cell(record: SealedRecord) -> ledger.CellKey:
    return ledger.CellKey(record.scope, record.place, record.sensor_model)
