"""Who gets which answer from each call about a group: one row a call, one column for each of the cast.

A new call needs a row: tests/house counts them. The calls act on harbour, a public group, with the objects that
test_allowed.py puts there; what outsiders get from a group that is not public needs no table, it is always 404.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any, Final

CAST: Final = ("nobody", "stranger", "elsewhere", "operator", "member", "moderator")
# Somebody who is not signed in; an account in no group; the moderator of another group; a moderator of everyone, as the
# operator appoints them; a member of the group; its moderator.


@dataclass(frozen=True)
class Row:
    """What each of the cast gets, and what they send."""

    answers: tuple[int, ...]
    body: Mapping[str, Any] | None = None
    query: str = ""


def readers(**sent: Any) -> Row:
    return Row((200,) * 6, **sent)


def accounts(status: int = 200, **sent: Any) -> Row:
    return Row((401, *(status,) * 5), **sent)


def members(status: int = 200, **sent: Any) -> Row:
    return Row((401, 404, 404, 404, status, status), **sent)


def moderators(status: int = 200, **sent: Any) -> Row:
    return Row((401, 404, 404, 404, 403, status), **sent)


FOUND = {"slug": "brook", "name": "Brook", "feeds_everyone": False, "wearers": "adult"}
ODDS = {"members": 9, "wears_a_month": 1, "sites": 1, "sites_a_member": 1, "months": 1}
ROUND = {"sensor_model": "demo-a14", "sites": ["calf", "chest"], "start_month": "2031-03-01"}
NO_WEAR = {"wears": ["5e5e5e5e-5e5e-4e5e-8e5e-5e5e5e5e5e5e"]}
CLOSE = {"site": "calf", "sensor_model": "demo-a14", "end": 24, "code": "swapped"}

ALLOWED: Final = MappingProxyType(
    {
        "GET groups/": readers(),
        "POST groups/": accounts(201, body=FOUND),
        "POST group-odds/": accounts(body=ODDS),
        "GET groups/<slug:slug>/": readers(),
        "PUT groups/<slug:slug>/": moderators(body={"name": "Harbour walk"}),
        "GET groups/<slug:slug>/protocol/": readers(),
        "PUT groups/<slug:slug>/protocol/": moderators(body={"fewest_pairs": 9}),
        "POST groups/<slug:slug>/protocol/preview/": moderators(body={"fewest_pairs": 9}),
        "PUT groups/<slug:slug>/membership/": accounts(body={}),
        # The last moderator of a group with members stays.
        "DELETE groups/<slug:slug>/membership/": Row((401, 404, 404, 404, 204, 409)),
        "GET groups/<slug:slug>/members/": moderators(),
        "PUT groups/<slug:slug>/members/<uuid:member>/role/": moderators(body={"role": "moderator"}),
        "GET groups/<slug:slug>/invitations/": moderators(),
        "POST groups/<slug:slug>/invitations/": moderators(201, body={"uses": 2}),
        "DELETE groups/<slug:slug>/invitations/<uuid:invitation>/": moderators(204),
        "GET groups/<slug:slug>/rounds/": members(),
        "POST groups/<slug:slug>/rounds/": moderators(201, body=ROUND),
        "PUT groups/<slug:slug>/rounds/<uuid:round_id>/place/": members(),
        "GET groups/<slug:slug>/curation/": moderators(),
        "GET groups/<slug:slug>/curation/<uuid:wear_id>/": moderators(),
        "POST groups/<slug:slug>/curation/<uuid:wear_id>/decision/": moderators(201, body={"action": "approve"}),
        "POST groups/<slug:slug>/curation/approvals/": moderators(body=NO_WEAR),
        "POST groups/<slug:slug>/curation/<uuid:wear_id>/question/": moderators(201, body={"question": "site"}),
        "GET groups/<slug:slug>/closings/": moderators(),
        "POST groups/<slug:slug>/closings/": moderators(body=CLOSE),
        "GET groups/<slug:slug>/record/": moderators(),
        "GET groups/<slug:slug>/editions/": readers(),
        "GET groups/<slug:slug>/editions/latest/": readers(),
        "GET groups/<slug:slug>/editions/<int:number>/": readers(),
        "GET groups/<slug:slug>/editions/<int:number>/tables/<slug:table>.csv": readers(),
        "GET groups/<slug:slug>/editions/<int:number>/charts/<slug:chart>.<slug:file_format>": readers(),
        "GET groups/<slug:slug>/editions/<int:number>/package.zip": readers(),
        "GET groups/<slug:slug>/editions/<int:number>/retraction/": moderators(),
        "POST groups/<slug:slug>/editions/<int:number>/retraction/": moderators(201, body={"reason": "privacy"}),
        "DELETE groups/<slug:slug>/editions/<int:number>/retraction/": moderators(204),
        "GET groups/<slug:slug>/neighbours/": readers(),
        # A package comes as a file, and JSON is none.
        "POST groups/<slug:slug>/neighbours/": moderators(415, body={}),
        "GET groups/<slug:slug>/neighbours/<uuid:neighbour_id>/": readers(),
        "DELETE groups/<slug:slug>/neighbours/<uuid:neighbour_id>/": moderators(204),
        "GET groups/<slug:slug>/drafts/": moderators(),
        # There is one of this date already.
        "POST groups/<slug:slug>/drafts/": moderators(409),
        "GET groups/<slug:slug>/drafts/<uuid:draft_id>/": moderators(),
        "DELETE groups/<slug:slug>/drafts/<uuid:draft_id>/": moderators(204),
        "POST groups/<slug:slug>/drafts/<uuid:draft_id>/publish/": moderators(201),
        "POST groups/<slug:slug>/choice/": readers(body={"weights": {"accuracy": 1}}),
        "GET groups/<slug:slug>/expectation/": accounts(query="?site=calf"),
        # The wear is the member's; whoever is outside the group is told to join first, whatever the wear.
        "PUT wears/<uuid:wear_id>/group/": Row((401, 409, 409, 409, 200, 404), body={"group": "harbour"}),
        "DELETE wears/<uuid:wear_id>/group/": Row((401, 404, 404, 404, 204, 404)),
    }
)
