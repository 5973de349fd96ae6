"""What could be learned about an owner who gives a wear to a group, told before it is given."""

from uuid import UUID

from pooling import sealing
from pooling.disclosure import Disclosure, GroupFacts, disclose
from server.accounts.models import Account
from server.core.errors import Conflict
from server.groups.models import Group
from server.groups.selectors import band_of, everyone, group_for_reader, protocol_of, rules_in_force
from server.wears.cutoff import families_of
from server.wears.models import Wear
from server.wears.selectors import summaries_for, wear_for_owner
from server.wears.transitions import State


def disclosure_for_owner(
    wear_id: UUID, *, account: Account, slug: str, next_slot: int, has_published: bool
) -> Disclosure:
    """Worked out from the wear and the group's rules alone: nobody else's wear is looked at."""
    wear = wear_for_owner(wear_id, account=account)
    group = group_for_reader(slug, account)
    if wear.shown_state == State.ADMITTED:
        raise Conflict("This wear is counted already and can enter no group again.")
    return disclose(
        site=wear.header["site"],
        sensor_model=wear.header["sensor_model"],
        families=_families(wear),
        group=_facts(group, has_published=has_published),
        next_slot=next_slot,
    )


def _families(wear: Wear) -> list[str]:
    summary = summaries_for([wear.pk])[wear.pk]
    return [family for family in families_of(wear) if sealing.has_value(summary, family)]


def _facts(group: Group, *, has_published: bool) -> GroupFacts:
    in_force = rules_in_force(group)
    return GroupFacts(
        name=group.name,
        is_everyone=group.reserved,
        feeds_everyone=group.feeds_everyone,
        k=in_force.protocol.k,
        k_of_everyone=protocol_of(everyone()).k,
        members=band_of(group),
        public=group.public,
        has_published=has_published,
        room=in_force.protocol.room,
        curated_by_everyone=in_force.protocol.curated_by_everyone,
        before_model_given_up=in_force.editions_before_model_given_up,
        before_site_given_up=in_force.editions_before_site_given_up,
    )
