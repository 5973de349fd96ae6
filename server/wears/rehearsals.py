"""How many people a change of a group's rules would still let count, from what waits there and nothing else."""

from typing import Any

from server.accounts.models import Account
from server.accounts.selectors import owners_of
from server.core.outcomes import Family
from server.groups.models import Group, Protocol, ProtocolPreview
from server.groups.permissions import Permission
from server.groups.previews import Counted, told_once
from server.groups.selectors import RulesInForce, require, rules_with
from server.groups.services import protocol_with
from server.wears.intake import summary_of
from server.wears.models import Awaited, Wear
from server.wears.selectors import columns_of


def rehearse_rules(group: Group, *, by: Account, **fields: Any) -> ProtocolPreview:
    """For a moderator who thinks of other rules. What is queued or was approved since the last cut-off is not counted.

    So who is counted changes at cut-offs alone, but for those who take a wear back.
    """
    require(Permission.PROTOCOL_CHANGE, group=group, account=by)
    protocol = protocol_with(group, **fields)
    return told_once(group, protocol, lambda: _count(group, protocol))


def _count(group: Group, protocol: Protocol) -> Counted:
    rules = rules_with(group, protocol)
    waiting = Awaited.objects.filter(family=Family.ACCURACY, wear__group=group).select_related("wear__summary")
    wears = [row.wear for row in waiting.order_by("wear_id")]
    owners = {wear_id: owner["account_id"] for wear_id, owner in owners_of(wear.id for wear in wears).items()}
    meeting = {owners[wear.id] for wear in wears if wear.id in owners and _meets(wear, rules)}
    return Counted(len(set(owners.values())), len(meeting))


def _meets(wear: Wear, rules: RulesInForce) -> bool:
    if rules.not_taken(wear.header) is not None:
        return False
    columns = columns_of(wear)
    if columns is None:
        return False  # nobody can say any more which of its pairs would count
    return summary_of(wear, columns, rules.rules).n_pairs >= rules.fewest_pairs
