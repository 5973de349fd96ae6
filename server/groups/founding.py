"""Founding a group: what its founder expects of it decides what it is by default, and is not kept."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from pooling.disclosure import MEMBERS, band_of_members
from server.accounts.models import Account
from server.accounts.throttles import count_try
from server.groups import selectors
from server.groups.models import Group
from server.groups.odds import ToldOdds, odds_for
from server.groups.services import found_group


@dataclass(frozen=True, slots=True)
class Founded:
    """A new group, and what its founder is told: what a small group can expect, and the odds for the typed numbers."""

    group: Group
    small_group: str
    odds: ToldOdds | None


def found_as_expected(
    *,
    founder: Account,
    feeds_everyone: bool,
    expected: Mapping[str, int] | None = None,
    protocol: Mapping[str, Any] | None = None,
    **details: Any,
) -> Founded:
    """Found a group; one for which few people are expected is a room, unless its founder decides otherwise.

    The odds take a moment and come first, so that nobody waits for a lock meanwhile. Foundings are few an hour: whether
    a short name is taken would otherwise tell somebody with a list which hidden groups there are.
    """
    count_try("group", str(founder.id))
    odds = None if expected is None else odds_for(account=founder, **expected)
    rules = dict(protocol or {})
    if expected is not None and feeds_everyone and band_of_members(expected["members"]) == MEMBERS[0]:
        rules.setdefault("room", True)
    group = found_group(founder=founder, feeds_everyone=feeds_everyone, protocol=rules, **details)
    return Founded(group, selectors.small_group_warning(group), odds)
