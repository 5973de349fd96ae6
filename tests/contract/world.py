"""The place that made-up calls act on: a group with one of each thing in it, and who calls.

An address or a body made of random words is refused at its first word. What stands here are the words that lead on: ids
of things that there are, and the trade's words. Some calls get them, and some stay as they were made up.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from random import Random
from typing import Any, Final

from tests.server.records import SENSOR_MODEL, record

FIRST_CUT_OFF: Final = date(2030, 7, 1)  # the eighth date lies a few days back
PASSWORD: Final = "four ordinary words here"
NOBODY: Final = "5e5e5e5e-5e5e-4e5e-8e5e-5e5e5e5e5e5e"
VISITOR, MEMBER, MODERATOR = ROLES = ("visitor", "member", "moderator")


@dataclass(frozen=True)
class World:
    """Tokens by role, and what leads on in addresses, headers, queries and bodies, by the name of the field."""

    tokens: Mapping[str, str | None]
    words: Mapping[str, tuple[Any, ...]]

    def headers(self, role: str) -> dict[str, str]:
        token = self.tokens[role]
        return {} if token is None else {"Authorization": f"Bearer {token}"}

    def leading(self, given: Any, chance: Random, *, but: frozenset[str] = frozenset()) -> Any:
        """The same with words that lead on put in the place of some that were made up."""
        if isinstance(given, list):
            return [self.leading(one, chance, but=but) for one in given]
        if not isinstance(given, dict):
            return given
        return {name: self._word(name, one, chance, but) for name, one in given.items()}

    def _word(self, name: str, given: Any, chance: Random, but: frozenset[str]) -> Any:
        if name in self.words and name not in but and chance.random() < 0.8:
            return chance.choice(self.words[name])
        return self.leading(given, chance, but=but)


def founded() -> World:
    """Found it all in the database that there is."""
    from server.accounts.consents import CONSENT_VERSION
    from server.accounts.services import join, sign_in
    from server.core.models import SensorModel
    from server.groups.services import found_group, join_group

    for slug in (SENSOR_MODEL, "demo-b10"):
        SensorModel.objects.get_or_create(slug=slug, defaults={"rated_life_days": 14, "open": True})
    joined = [
        join(password=PASSWORD, consent_version=CONSENT_VERSION, scopes={"keep": True, "pool": True}) for _ in range(3)
    ]
    moderator, member, _ = (one.account for one in joined)
    groups = [
        found_group(
            founder=moderator,
            slug=slug,
            name=slug.capitalize(),
            description="An invented group.",
            public=public,
            feeds_everyone=True,
            wearers="mixed",
            protocol={"joint_rounds": True},
        )
        for slug, public in (("harbour", True), ("meadow", False))
    ]
    join_group(groups[0], account=member)
    signed_in = [sign_in(account.sign_in_name, PASSWORD) for account in (member, moderator)]
    return World(
        tokens=dict(zip(ROLES, (None, *signed_in), strict=True)),
        words=_words() | _things(groups[0], moderator, member) | _credentials(joined[2]),
    )


def _things(group: Any, moderator: Any, member: Any) -> dict[str, tuple[Any, ...]]:
    """One of each thing that an address can name, in the group."""
    from server.accounts.plans import register_plan
    from server.accounts.selectors import wearer_of
    from server.editions.expecting import document_of_everyone
    from server.groups.invitations import make_invitation, open_invitations
    from server.groups.models import Membership
    from server.groups.rounds import open_round
    from server.wears.services import accept_upload, give_to_group
    from tests.server.releasing import release

    wearer = wearer_of(member, None)
    wears = [
        accept_upload(json.dumps(record(seed=seed)).encode(), account=member, wearer=wearer).wear for seed in range(3)
    ]
    for wear in wears[1:]:
        give_to_group(wear.id, account=member, group=group)
        release(wear.pk)
    code = make_invitation(group, by=moderator, uses=2).code
    round_of = open_round(
        group, by=moderator, sensor_model=SENSOR_MODEL, sites=["calf", "chest"], start_month=date(2031, 3, 1)
    )
    told = {"spots": [{"site": "calf"}, {"site": "chest"}], "sensor_model": SENSOR_MODEL}
    plan = register_plan(member, told, wearer=wearer, document=document_of_everyone())
    ids = {
        "slug": ("harbour", "harbour", "meadow", "everyone"),
        "member": tuple(Membership.objects.filter(group=group).values_list("pk", flat=True)),
        "invitation": (code, open_invitations(group, account=moderator)[0].id),
        "round_id": (round_of.id,),
        "wear_id": tuple(wear.pk for wear in wears),
        "plan_id": (plan.pk,),
        "Wearer": (wearer.pk,),
        **_published(group),
    }
    return {name: tuple(map(str, values)) for name, values in ids.items()}


def _published(group: Any) -> dict[str, tuple[Any, ...]]:
    """An edition that stands, one that was taken back, a draft that is ready, and the edition of another server."""
    from pooling.edition import assemble, canonical_bytes, sha256_hex
    from pooling.edition.certificate import certificate_bytes
    from server.editions.models import Draft, DraftState, Edition, Neighbour, Retraction, Slot
    from tests.pooling.conftest import make_context, make_fit, make_outcomes, make_parts

    document = canonical_bytes(assemble(make_fit(), make_context(), make_outcomes(), make_parts()))
    digest, certificate = sha256_hex(document), certificate_bytes(document, auditor_version=1)
    slots = [
        Slot.objects.create(number=number, cut_off=cut_off)
        for number, cut_off in ((6, date(2030, 12, 1)), (7, date(2031, 1, 1)), (8, date(2031, 2, 1)))
    ]
    back, _ = (
        Edition.objects.create(
            group=group,
            slot=slot,
            document=document,
            sha256=digest,
            certificate=certificate,
            published_month=slot.cut_off,
        )
        for slot in slots[:2]
    )
    Retraction.objects.create(
        edition=back, reason="privacy", proposer_mark="somebody", retracted_month=date(2031, 1, 1)
    )
    draft = Draft.objects.create(group=group, slot=slots[2], state=DraftState.READY, document=document)
    neighbour = Neighbour.objects.create(
        group=group,
        address="https://hills.example/",
        public_key="ab" * 32,
        sha256=digest,
        document=document,
        certificate=certificate,
        signature={},
    )
    return {"draft_id": (draft.pk,), "neighbour_id": (neighbour.pk,), "number": (6, 7, 7)}


def _credentials(joined: Any) -> dict[str, tuple[str, ...]]:
    """Of an account that nobody else here uses."""
    return {
        "sign_in_name": (joined.account.sign_in_name,),
        "password": (PASSWORD, "five other ordinary words here"),
        "recovery_code": joined.recovery_codes,
    }


def _words() -> dict[str, tuple[Any, ...]]:
    """The trade's words and the service's own, by the field that they stand in."""
    from server.accounts.consents import CONSENT_VERSION
    from server.accounts.models import AgeClass, Relation, Scope
    from server.curation.words import Ground, Question, Reason, Reply, RetractionReason
    from server.editions import rendering
    from server.editions.weighing import CRITERIA
    from server.groups.models import Role, Wearers

    return {
        "wear": (NOBODY,),
        "site": ("calf", "chest", "thigh.front"),
        "sites": (["calf", "chest"], ["calf", "calf"], 3),
        "spots": ([{"site": "calf"}, {"site": "chest"}],),
        "side": ("left", "right"),
        "sensor_model": (SENSOR_MODEL, "demo-b10", "demo-unknown"),
        "group": ("harbour", "meadow", "everyone"),
        "table": tuple(rendering.TABLES),
        "chart": tuple(rendering.CHARTS),
        "file_format": ("json", "svg", "html"),
        "consent_version": (CONSENT_VERSION,),
        "text_version": (CONSENT_VERSION,),
        "scopes": ({"keep": True, "pool": False},),
        "scope": tuple(Scope.values),
        "relation": tuple(Relation.values),
        "age_class": tuple(AgeClass.values),
        "wearers": tuple(Wearers.values),
        "role": tuple(Role.values),
        "code": tuple(Reason.values),
        "reason": tuple(RetractionReason.values),
        "question": tuple(Question.values),
        "answer": tuple(Reply.values),
        "ground": tuple(Ground.values),
        "weights": tuple({one: 1} for one in CRITERIA),
        "end": (24, 30),
        "record": (record(), record(seed=9), record(site="nowhere")),
        "k": (5, 6),
        "members": (9,),
        "months": (1, 12),
    }
