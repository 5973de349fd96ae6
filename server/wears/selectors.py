"""Reads of wears: by their owner, by a curator who must not learn whose they are, and by the cut-off.

Lists are in the order of the random ids, which tells nothing about arrival.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from sys import intern
from typing import Any, Final
from uuid import UUID

import msgspec
from django.db.models.fields.json import KeyTextTransform

from pooling import summary as summaries
from pooling.columns import PairColumns, unpack
from pooling.record import from_header, record_schema
from pooling.report import LicensedSite, wear_report
from server.accounts.models import Account
from server.accounts.selectors import holding_of, ids_held_by
from server.core.errors import NotFound
from server.core.outcomes import Family
from server.core.selectors import licensed_sites
from server.core.stored import stored_bytes
from server.groups.models import EVERYONE, Group
from server.groups.selectors import months_between_editions, rules_of_versions
from server.wears.copies import copies_told
from server.wears.models import Awaited, Wear, WearPairs, WearSummary
from server.wears.plans import RANDOMISED, told_again

NO_SUCH_WEAR: Final = "There is no such wear among yours."
NOT_IN_QUEUE: Final = "There is no such wear in this group's queue."
MINUTES_A_DAY: Final = 24 * 60
Findings = Sequence[Mapping[str, str]]

# Owners


def wears_of(account: Account) -> list[Wear]:
    wears = Wear.objects.select_related("group", "summary").defer("summary__payload")
    return list(wears.filter(id__in=ids_held_by(account)).order_by("id"))


def wear_for_owner(wear_id: UUID, *, account: Account) -> Wear:
    """The account's own wear; somebody else's, an erased one and one that never was are answered alike."""
    own = Wear.objects.filter(id__in=ids_held_by(account)).select_related("group", "summary", "pairs")
    wear = own.filter(pk=wear_id).first()
    if wear is None:
        raise NotFound(NO_SUCH_WEAR)
    return wear


def report_for_owner(
    wear_id: UUID, *, account: Account, unit: str | None = None, findings: Findings | None = None
) -> dict[str, Any]:
    """What the wear says and cannot say, computed from its readings as long as they are kept; `findings` if known."""
    wear, columns = wear_with_readings(wear_id, account=account)
    return report_of(wear, columns, account=account, unit=unit, findings=findings)


def wear_with_readings(wear_id: UUID, *, account: Account) -> tuple[Wear, PairColumns]:
    """The account's own wear and its readings, as long as they are kept."""
    wear = wear_for_owner(wear_id, account=account)
    columns = columns_of(wear)
    if columns is None:
        raise NotFound(
            "The readings of this wear have been erased on the date set at upload, and its report with them."
        )
    return wear, columns


def report_of(
    wear: Wear,
    columns: PairColumns,
    *,
    account: Account,
    unit: str | None = None,
    findings: Findings | None = None,
) -> dict[str, Any]:
    """The report, in words of the reader's unit (the record's own by default); its findings, where they are known."""
    holding = holding_of(wear.id)
    report = wear_report(
        columns,
        from_header(wear.header),
        unit=unit,
        licensed=[LicensedSite(site, ages) for site, ages in licensed_sites(wear.header["sensor_model"])],
        ages=None if holding is None else holding.wearer.age_class,
    )
    if findings is None:
        told = [*told_again(wear.findings), *copies_told(wear, account=account)]
        findings = [*report["findings"], *msgspec.to_builtins(told)]
    return report | {"findings": findings}


def columns_of(wear: Wear) -> PairColumns | None:
    """The readings of a wear, None once they have been erased."""
    block = WearPairs.objects.filter(wear=wear).values_list("block", flat=True).first()
    return None if block is None else unpack(bytes(block))


def record_schema_document() -> dict[str, Any]:
    """The published JSON Schema of a wear record."""
    return record_schema()


# The cut-off


@dataclass(frozen=True, slots=True)
class WaitingWear:
    """What admission may know of a wear that waits in a family: where it would count and whether it may."""

    wear_id: UUID
    group_id: UUID
    group_slug: str
    scope: str
    feeds_everyone: bool
    site: str
    sensor_model: str
    by_lot: bool
    waiting_since_slot: int
    meets_rules: bool
    months_between_editions: int
    before_model_given_up: int
    before_site_given_up: int


READ_OF_WAITING: Final = (
    "wear_id",
    "since_slot",
    "wear__group_id",
    "wear__summary__protocol_version",
    "wear__summary__everyone_version",
    "wear__summary__n_pairs",
)

READ_OF_HEADERS: Final = ("site", "sensor_model", "assignment")


def waiting_ids() -> frozenset[UUID]:
    """Every wear that waits in some family."""
    return frozenset(Awaited.objects.values_list("wear_id", flat=True))


def waiting_wears(family: str = Family.ACCURACY) -> tuple[WaitingWear, ...]:
    """Each under the rules it was curated by; when its group has an edition, the group says now."""
    waits = Awaited.objects.filter(family=family).order_by("wear_id")
    said = {name: KeyTextTransform(name, "wear__header") for name in READ_OF_HEADERS}
    rows = list(waits.values(*READ_OF_WAITING, **said))
    groups = Group.objects.in_bulk({row["wear__group_id"] for row in rows})
    months = {group_id: months_between_editions(group) for group_id, group in groups.items()}
    rules = cache(rules_of_versions)

    def waiting(row: Mapping[str, Any]) -> WaitingWear:
        # The database lets no wear wait outside a group.
        group = groups[row["wear__group_id"]]
        versions = row["wear__summary__protocol_version"], row["wear__summary__everyone_version"]
        curated_by = rules(group, versions)
        # Rules about pairs concern accuracy alone: a wear without a pair still says how long the sensor stayed on.
        enough = family != Family.ACCURACY or row["wear__summary__n_pairs"] >= curated_by.fewest_pairs
        return WaitingWear(
            wear_id=row["wear_id"],
            group_id=group.id,
            group_slug=group.slug,
            scope=EVERYONE if curated_by.protocol.room else group.scope,
            feeds_everyone=group.feeds_everyone,
            site=intern(row["site"]),
            sensor_model=intern(row["sensor_model"]),
            by_lot=row["assignment"] == RANDOMISED,
            waiting_since_slot=row["since_slot"],
            meets_rules=enough,
            months_between_editions=months[group.id],
            before_model_given_up=curated_by.editions_before_model_given_up,
            before_site_given_up=curated_by.editions_before_site_given_up,
        )

    return tuple(map(waiting, rows))


def summaries_for(wear_ids: Iterable[UUID]) -> dict[UUID, summaries.Sealable]:
    """What sealing reads of these wears."""
    found = stored_bytes(WearSummary, "payload", wear_ids)
    return {wear_id: summaries.sealable(payload) for wear_id, payload in found}
