"""Wears on their way in: each is judged by itself, and those of one request are written together."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date
from functools import cached_property
from typing import Any, Final
from uuid import UUID

from msgspec.structs import replace

from pooling import summary as summaries
from pooling.checks import Finding, find
from pooling.columns import PairColumns, columns_from, pack
from pooling.record import WearRecord, from_header, header_of
from pooling.summary import SummaryRules
from server.accounts.models import Account, Holding, Scope, Wearer
from server.accounts.selectors import objection
from server.accounts.services import keep_switches
from server.core import clock
from server.core.errors import Conflict
from server.core.selectors import rated_lives
from server.core.stored import write_together
from server.groups.models import WIDEST_GAP_CEILING_MIN
from server.groups.rounds import require_kept
from server.wears.copies import OwnWears, bands_of, hidden
from server.wears.models import Wear, WearPairs, WearSummary
from server.wears.plans import believed, plan_mark
from server.wears.records import read_record

MONTHS_KEPT: Final = 12
MOST_WEARS: Final = 5_000  # an upload is held against all of them, and nobody fills the disk alone
UPLOAD_RULES: Final = SummaryRules(
    version=0, widest_gap_min=WIDEST_GAP_CEILING_MIN, highest_rate_mg_dl_min=None, first_day="keep"
)


@dataclass(frozen=True, slots=True, repr=False)
class UploadResult:
    """A wear that has been taken, and what is remarked about it."""

    wear: Wear
    findings: tuple[Finding, ...]


@contextmanager
def accepting(account: Account) -> Iterator["Intake"]:
    """Within a transaction: what is taken meanwhile is written at the end."""
    intake = Intake(account)
    yield intake
    intake.write()


class Intake:
    """Wears of one account on their way in; what all of them are held against is read once."""

    def __init__(self, account: Account) -> None:
        self._account = account
        self._willing: set[UUID] = set()
        self._taken: list[tuple[Wear, WearPairs, WearSummary, Holding]] = []

    @cached_property
    def _month(self) -> date:
        return clock.today().replace(day=1)

    @cached_property
    def _lives(self) -> dict[str, float]:
        return rated_lives()

    @cached_property
    def _own(self) -> OwnWears:
        return OwnWears(self._account)

    def take(self, raw: bytes, *, wearer: Wearer) -> UploadResult:
        """Take a wear record as it came, or refuse it with every fault in it; of a refused one nothing is written."""
        if not self._willing:
            keep_switches(self._account)
        if self._own.n_held >= MOST_WEARS:
            raise Conflict(f"An account holds {MOST_WEARS:,} wears at most. Erase some that you do not need first.")
        if wearer.pk not in self._willing:
            require_consent(self._account, Scope.KEEP, wearer)
            self._willing.add(wearer.pk)
        record = read_record(raw, lives=self._lives)
        require_kept(record, account=self._account)
        record, told = believed(record, account=self._account, wearer=wearer)
        columns = columns_from(record)
        findings = (*find(columns, record), *told)
        wear = Wear(
            findings=[finding.code for finding in findings],
            uploaded_month=self._month,
        )
        wear.header = _header_at_rest(record, wear.id)
        bands = bands_of(columns)
        wear.likeness = hidden(bands, wear_id=wear.id)
        rows = (
            wear,
            WearPairs(wear=wear, block=pack(columns), erase_on=month_after(wear.uploaded_month, MONTHS_KEPT)),
            summary_of(wear, columns, UPLOAD_RULES),
            Holding(account=self._account, wearer=wearer, wear_id=wear.id),
        )
        findings = (*findings, *self._own.told_of(bands, wear.header))
        self._own.add(bands, wear.header)
        self._taken.append(rows)
        return UploadResult(wear, findings)

    def write(self) -> None:
        write_together(*zip(*self._taken, strict=True))


def require_consent(account: Account, scope: Scope, wearer: Wearer) -> None:
    """Refuse what this account does not agree to now."""
    if refusal := objection(account, scope, wearer=wearer):
        raise Conflict(refusal)


def _header_at_rest(record: WearRecord, wear_id: UUID) -> dict[str, Any]:
    """The record without its pairs. One plan covers several wears, so its token becomes a mark of this wear alone."""
    plan = None if record.plan is None else plan_mark(wear_id, record.plan)
    return header_of(replace(record, plan=plan))


def month_after(month: date, n_months: int) -> date:
    """The first of the month that lies so many whole months later."""
    year, index = divmod(month.year * 12 + month.month - 1 + n_months, 12)
    return date(year, index + 1, 1)


def summary_of(wear: Wear, columns: PairColumns, rules: SummaryRules, *, everyone_version: int = 0) -> WearSummary:
    """The statistics of a wear under these rules, ready to be written."""
    record = from_header(wear.header)
    summary = summaries.summarise(
        columns,
        worn_min=record.worn_min,
        end_reason=record.end_reason,
        skin_grade=None if record.skin is None else record.skin.grade,
        ratings=record.ratings,
        rules=rules,
    )
    return WearSummary(
        wear=wear,
        protocol_version=rules.version,
        everyone_version=everyone_version,
        n_pairs=summary.strata["all"].n_pairs,
        payload=summaries.to_bytes(summary),
    )
