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
OFTEN: Final = 0.9
MAPPING: Final = {
    "kind": "sensor",
    "header_line": 3,
    "roles": ["moment", "glucose"],
    "glucose_unit": "mmol/L",
    "date_order": "day_first",
    "decimal": ",",
    "time_zone": None,
    "header_hash_input": ["moment of the quokka", "sensor wombat"],
}
VISITOR, MEMBER, MODERATOR = ROLES = ("visitor", "member", "moderator")


@dataclass(frozen=True)
class World:
    """Tokens by role, and what leads on: in addresses and headers, in bodies by the field, and as a whole body."""

    tokens: Mapping[str, str | None]
    places: Mapping[str, tuple[Any, ...]]
    words: Mapping[str, tuple[Any, ...]]
    bodies: Mapping[str, tuple[Any, ...]]

    def headers(self, role: str) -> dict[str, str]:
        token = self.tokens[role]
        return {} if token is None else {"Authorization": f"Bearer {token}"}

    def place(self, given: Mapping[str, Any], chance: Random, *, but: frozenset[str]) -> dict[str, Any]:
        """The same names of things, with some in their place that there are."""
        leads_on = chance.random() < OFTEN
        return {
            name: chance.choice(self.places[name]) if leads_on and name in self.places and name not in but else one
            for name, one in given.items()
        }

    def body(self, call: str, given: Any, chance: Random) -> Any:
        """The same body with words that lead on in the place of some made up, or another that leads on as a whole."""
        if chance.random() > OFTEN:
            return given
        return chance.choice(self.bodies[call]) if call in self.bodies else self._leading(given, chance)

    def _leading(self, given: Any, chance: Random) -> Any:
        if isinstance(given, list):
            return [self._leading(one, chance) for one in given]
        if not isinstance(given, dict):
            return given
        return {
            name: chance.choice(self.words[name])
            if name in self.words and chance.random() < OFTEN
            else self._leading(one, chance)
            for name, one in given.items()
        }


def founded() -> World:
    """Found it all in the database that there is."""
    from server.accounts.consents import CONSENT_VERSION
    from server.accounts.services import join, sign_in
    from server.core.models import SensorModel
    from server.editions.signing import make_key
    from server.groups.services import found_group, join_group

    make_key()
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
        places=_words() | _things(groups[0], moderator, member),
        words=_words() | _numbers() | _credentials(joined[2]),
        bodies=_bodies(),
    )


def _things(group: Any, moderator: Any, member: Any) -> dict[str, tuple[Any, ...]]:
    """One of each thing that an address can name, in the group."""
    from server.accounts.plans import register_plan
    from server.accounts.selectors import wearer_of
    from server.accounts.services import remember_mapping
    from server.curation.services import ask_owner, exclude_wear
    from server.editions.expecting import document_of_everyone
    from server.groups.invitations import make_invitation, open_invitations
    from server.groups.models import Membership
    from server.groups.rounds import open_round
    from server.wears.cutoff import show_states
    from server.wears.services import accept_upload, give_to_group
    from tests.server.releasing import release

    wearer = wearer_of(member, None)
    wears = [
        accept_upload(json.dumps(record(seed=seed)).encode(), account=member, wearer=wearer).wear for seed in range(4)
    ]
    for wear in wears[1:]:
        give_to_group(wear.id, account=member, group=group)
        release(wear.pk)
    ask_owner(group, wears[2].id, question="site", by=moderator)
    exclude_wear(group, wears[3].id, code="stuck", by=moderator)
    show_states()
    make_invitation(group, by=moderator, uses=2)
    round_of = open_round(
        group, by=moderator, sensor_model=SENSOR_MODEL, sites=["calf", "chest"], start_month=date(2031, 3, 1)
    )
    told = {"spots": [{"site": "calf"}, {"site": "chest"}], "sensor_model": SENSOR_MODEL}
    plan = register_plan(member, told, wearer=wearer, document=document_of_everyone())
    ids = {
        "slug": (*("harbour",) * 8, "meadow", "everyone"),
        "member": tuple(Membership.objects.filter(group=group).values_list("pk", flat=True)),
        "invitation": (open_invitations(group, account=moderator)[0].id,),
        "round_id": (round_of.id,),
        "wear_id": tuple(wear.pk for wear in wears),
        "plan_id": (plan.pk,),
        "mapping_id": (remember_mapping(member, MAPPING).pk,),
        "Wearer": (wearer.pk,),
        **_published(group),
    }
    return {name: tuple(map(str, values)) for name, values in ids.items()}


def _published(group: Any) -> dict[str, tuple[Any, ...]]:
    """Editions that stand, are doubted and were taken back, a draft that is ready, and one of another server."""
    from pooling.edition import assemble, canonical_bytes, sha256_hex
    from pooling.edition.certificate import certificate_bytes
    from server.editions.models import Draft, DraftState, Edition, Neighbour, Retraction, Slot
    from tests.pooling.conftest import make_context, make_fit, make_outcomes, make_parts

    document = canonical_bytes(assemble(make_fit(), make_context(), make_outcomes(), make_parts()))
    digest, certificate = sha256_hex(document), certificate_bytes(document, auditor_version=1)
    slots = [
        Slot.objects.create(number=number, cut_off=cut_off)
        for number, cut_off in (
            (5, date(2030, 11, 1)),
            (6, date(2030, 12, 1)),
            (7, date(2031, 1, 1)),
            (8, date(2031, 2, 1)),
        )
    ]
    doubted, back, _ = (
        Edition.objects.create(
            group=group,
            slot=slot,
            document=document,
            sha256=digest,
            certificate=certificate,
            published_month=slot.cut_off,
        )
        for slot in slots[:3]
    )
    Retraction.objects.create(edition=doubted, reason="privacy", proposer_mark="somebody")
    Retraction.objects.create(
        edition=back, reason="privacy", proposer_mark="somebody", retracted_month=date(2031, 1, 1)
    )
    draft = Draft.objects.create(group=group, slot=slots[3], state=DraftState.READY, document=document)
    neighbour = Neighbour.objects.create(
        group=group,
        address="https://hills.example/",
        public_key="ab" * 32,
        sha256=digest,
        document=document,
        certificate=certificate,
        signature={},
    )
    return {"draft_id": (draft.pk,), "neighbour_id": (neighbour.pk,), "number": (5, 6, 7)}


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
    from server.editions.weighing import CRITERIA
    from server.groups.models import Role, Wearers

    return {
        "wear": (NOBODY,),
        "site": ("calf", "chest", "thigh.front"),
        "sites": (["calf", "chest"], ["calf", "calf"]),
        "spots": ([{"site": "calf"}, {"site": "chest"}],),
        "side": ("left", "right"),
        "sensor_model": (SENSOR_MODEL, SENSOR_MODEL, "demo-unknown"),
        "group": ("harbour", "harbour", "everyone"),
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
        "record": (record(seed=7), record(seed=8), record(site="nowhere")),
        "start_month": ("2031-03-01",),
        "of_age_month": (None, "2040-05-01"),
        "after": ("0", "1"),
        "rated_life_days": ("14.0",),
        "ages": ("adult", "all"),
    }


def _numbers() -> dict[str, tuple[Any, ...]]:
    """Numbers within the bounds that the rules set, by the field that they stand in."""
    return {
        "slug": ("brook", "demo-x7"),
        "edition": (7,),
        "end": (24, 30),
        "uses": (1, 2),
        "members": (9,),
        "wears_a_month": (1,),
        "sites_a_member": (1,),
        "sensor_models": (1,),
        "months": (1, 2),
        "k": (5, 6),
        "fewest_pairs": (8, 9),
        "widest_gap_min": (15,),
        "highest_rate_mg_dl_min": (None, 2.0),
        "first_day": ("keep",),
        "accepted_models": (None, [SENSOR_MODEL]),
        "accepted_sites": (None, ["calf"]),
        "accepted_meter_classes": (None,),
        "editions_before_model_given_up": (2,),
        "editions_before_site_given_up": (4,),
        "months_between_editions": (1, 2),
        "room": (False,),
        "wears_per_site": (1, 2),
        "pairs_per_wear": (8, 30),
        "daily_cap": (5,),
        "first_day_pairs": (3,),
        "waking_min": (840,),
        "insert_after_waking_min": (60,),
        "warm_up_min": (120,),
        "resting": ([{"site": "calf", "side": "left", "days_since": 3}],),
        "algorithm_generation": (1, 2),
        "one_time_code": ("",),
        "invitation": ("",),
    }


def _bodies() -> dict[str, tuple[Any, ...]]:
    """Bodies that hold together only as a whole, by the name of the call and their media type."""
    from tests.server.editions.test_neighbours import ADDRESS, PUBLIC_KEY, packed

    odds = {"members": 9, "wears_a_month": 1, "sites": 1, "sites_a_member": 1, "months": 1}
    return {
        "wear_upload application/json": (record(seed=7), record(seed=8, site="nowhere")),
        "wears_preview application/json": (record(seed=7), record(seed=8, site="nowhere")),
        "mapping_remember application/json": (MAPPING,),
        "group_odds application/json": (odds,),
        "neighbour_add multipart/form-data": ({"package": packed(), "address": ADDRESS, "public_key": PUBLIC_KEY},),
        "close application/json": ({"site": "calf", "sensor_model": SENSOR_MODEL, "end": 24, "code": "swapped"},),
    }
