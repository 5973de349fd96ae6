"""What owners are told about their wears: what is asked, what was decided and why, as of the last edition date."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any, Final

from server.accounts.models import Account
from server.accounts.selectors import wears_held_by
from server.core.chunks import chunks
from server.curation.looks import n_moderators_who_looked
from server.curation.models import BY_OWNERS, Action, Decision, Told
from server.curation.record import entries_about, wear_marks
from server.curation.words import TAGS, Question, Reply, replies_to, told_to_owner
from server.groups.models import Group
from server.wears.models import Wear
from server.wears.transitions import State

AT_ONCE: Final = (Action.ASK, *BY_OWNERS)
VERDICTS: Final = (Action.APPROVE, Action.EXCLUDE, Action.UNDO)
STAYS_COUNTED: Final = (
    "What was counted of it before stays in the sums, which are about several people; nothing more of it is counted. "
    "An appeal can correct the record and no figure."
)
LEFT_OUT: Final = "It is in no figure. You can appeal once, take it back, or give it to another group."


@dataclass(frozen=True, slots=True)
class Asked:
    """An open question, with what can be answered and what the record says now."""

    code: str
    words: str
    answers: tuple[Reply, ...]
    recorded: str | None


@dataclass(frozen=True, slots=True)
class LeftOut:
    code: str
    words: str
    what_now: str
    may_appeal: bool


@dataclass(frozen=True, slots=True)
class Standing:
    asked: Asked | None
    left_out: LeftOut | None
    n_looked: int = 0


def standing_of(wear: Wear) -> Standing:
    """Where a wear stands for its owner."""
    n_looked = n_moderators_who_looked(wear.id)
    if wear.group is None or wear.shown_state not in (State.ASKED, State.EXCLUDED, State.ADMITTED):
        return Standing(None, None, n_looked)
    entries = entries_about(wear.group, wear.id)
    return Standing(_asked(wear, entries), _left_out(wear, entries), n_looked)


def open_question(entries: Sequence[Decision]) -> str:
    """What a wear that is asked about is asked."""
    return next((entry.code for entry in reversed(entries) if entry.action == Action.ASK), "")


def _asked(wear: Wear, entries: Sequence[Decision]) -> Asked | None:
    code = open_question(entries)
    if wear.state != State.ASKED or not code:
        return None
    recorded = wear.header.get(code) if code in TAGS else None
    return Asked(code, Question(code).label, replies_to(code), recorded)


def _left_out(wear: Wear, entries: Sequence[Decision]) -> LeftOut | None:
    told = told_up_to([wear.group_id])
    verdicts = [entry for entry in entries if entry.action in VERDICTS and entry.number <= told.get(wear.group_id, 0)]
    if not verdicts or verdicts[-1].action != Action.EXCLUDE or wear.shown_state == State.ASKED:
        return None
    code, words = told_to_owner(verdicts[-1].code)
    what_now = STAYS_COUNTED if wear.shown_state == State.ADMITTED else LEFT_OUT
    return LeftOut(code, words, what_now, may_appeal=not has_appealed(entries))


def has_appealed(entries: Iterable[Decision]) -> bool:
    return any(entry.action == Action.APPEAL for entry in entries)


def told_up_to(group_ids: Iterable[Any]) -> dict[Any, int]:
    """Of each group, the number of the last entry that owners have been told."""
    return dict(Told.objects.filter(group_id__in=list(group_ids)).values_list("group_id", "number"))


def looks_at_wears_of(account: Account) -> list[dict[str, Any]]:
    """How many moderators looked at each wear that somebody looked at, for its owner."""
    counted = ((wear_id, n_moderators_who_looked(wear_id)) for wear_id in wears_held_by(account))
    return [{"wear": wear_id, "n_moderators": n_moderators} for wear_id, n_moderators in counted if n_moderators]


def decisions_about_wears_of(account: Account) -> list[dict[str, Any]]:
    """What was decided about an account's wears, for its owner; who decided is not told."""
    groups = list(Group.objects.order_by("slug"))
    told = told_up_to(group.pk for group in groups)
    marks = {
        mark: wear_id for wear_id in wears_held_by(account) for group in groups for mark in wear_marks(group, wear_id)
    }
    entries = [
        entry
        for chunk in chunks(marks)
        for entry in Decision.objects.filter(wear_mark__in=chunk).select_related("group")
        if entry.action in AT_ONCE or entry.number <= told.get(entry.group_id, 0)
    ]
    entries.sort(key=lambda entry: (entry.group.slug, entry.number))
    return [
        {
            "wear": marks[entry.wear_mark],
            "group": entry.group.slug,
            "action": entry.action,
            "code": told_to_owner(entry.code)[0] if entry.action == Action.EXCLUDE else entry.code,
            "group_rules": entry.protocol_version,
            "month": entry.on_month,
        }
        for entry in entries
    ]
