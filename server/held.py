"""Everything that the service holds about a member, from every app, for the API and for the pages."""

from typing import Any

from server.accounts.holdings import held_about, labels_of
from server.accounts.models import Account
from server.core.idempotency import answers_kept
from server.curation.standing import decisions_about_wears_of, looks_at_wears_of
from server.editions.places import outcomes_ended_early, places_under
from server.groups.rounds import places_of
from server.groups.selectors import memberships_of
from server.wears.holdings import wears_held
from server.wears.models import Wear
from server.wears.transitions import State


def ended_early_of(wear: Wear, *, account: Account) -> list[str]:
    """In which outcomes moderators have ended sums that may count this wear; none where it has not been counted."""
    if wear.shown_state != State.ADMITTED:
        return []
    header = wear.header
    return outcomes_ended_early(labels_of(account), site=header["site"], sensor_model=header["sensor_model"])


def everything_about(account: Account) -> dict[str, Any]:
    wearers = labels_of(account)
    return held_about(account) | {
        "groups": memberships_of(account),
        "rounds": places_of(account),
        "wears": wears_held(account),
        "decisions": decisions_about_wears_of(account),
        "looks": looks_at_wears_of(account),
        "places": [place | {"wearer": wearers[place["label"]]} for place in places_under(wearers)],
        "answers_kept": answers_kept(account.pk),
    }
