"""What moderators are told about rules they think of: a band of people, once a day, the same to the same question."""

import hashlib
import json
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date

from django.db import transaction

from pooling.protection import FLOOR_PEOPLE, band_people
from server.core import clock
from server.core.errors import Conflict
from server.groups.invitations import interval_of
from server.groups.models import Group, Protocol, ProtocolPreview
from server.groups.services import PROTOCOL_FIELDS

AGAIN_TOMORROW = (
    "Rules can be tried once a day: one question after the other would tell of single people. Ask this one tomorrow; "
    "what was asked before gets the answer it got."
)


@dataclass(frozen=True, slots=True)
class Counted:
    """People who wait in a group, and those of them of whom some wear would meet the rules in question."""

    n_people: int
    n_people_meeting: int


@transaction.atomic
def told_once(group: Group, protocol: Protocol, count: Callable[[], Counted]) -> ProtocolPreview:
    """The answer given before, or a new one where none was given today; nobody is counted for a refusal."""
    Group.objects.select_for_update().get(pk=group.pk)
    today = clock.today()
    given = ProtocolPreview.objects.filter(group=group)
    asked = {"group": group, "interval": interval_of(today), "rules_sha256": _digest(protocol)}
    before = given.filter(**asked).first()
    if before is not None:
        return before
    if given.filter(asked_on=today).exists():
        raise Conflict(AGAIN_TOMORROW)
    at_least, below = _band(count(), k=protocol.k)
    return ProtocolPreview.objects.create(**asked, asked_on=today, people_at_least=at_least, people_below=below)


def _band(counted: Counted, *, k: int) -> tuple[int | None, int | None]:
    """A band, or nothing below k people. When fewer than k would be left out, they are not told apart from the rest."""
    left_out = counted.n_people - counted.n_people_meeting
    n_people = counted.n_people if left_out < k else counted.n_people_meeting
    if n_people < max(k, FLOOR_PEOPLE):
        return None, None
    band = band_people(n_people)
    return band.at_least, band.below


def _digest(protocol: Protocol) -> str:
    rules = {name: getattr(protocol, name) for name in PROTOCOL_FIELDS}
    return hashlib.sha256(json.dumps(rules, sort_keys=True).encode()).hexdigest()


def drop_past(today: date) -> None:
    ProtocolPreview.objects.filter(interval__lt=interval_of(today)).delete()
