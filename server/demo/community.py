"""Bring the invented community into the service: accounts, groups, wears and moderators' decisions."""

import json
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import TypeVar

import numpy as np
from django.db import transaction

from pooling.simulate import (
    DEMO_MODELS,
    Community,
    GroupPlan,
    SimulatedWear,
    simulate_community,
    single_wear,
)
from server.accounts.consents import CONSENT_VERSION
from server.accounts.models import Account, Wearer
from server.accounts.plans import register_plan
from server.accounts.selectors import wearer_of
from server.accounts.services import add_wearer, join
from server.core import clock
from server.core.models import SensorModel
from server.curation.release import release_batches
from server.curation.selectors import queue_for_moderator
from server.curation.services import approve_wear
from server.demo.scenario import Scenario
from server.groups.invitations import make_invitation
from server.groups.models import Group
from server.groups.selectors import everyone
from server.groups.services import appoint_moderator, found_group, join_group
from server.wears.copies import look_for_copies
from server.wears.services import accept_upload, give_to_group

Progress = Callable[[str], None]
CONSENT = {"keep": True, "pool": True}
OF_AGE_MONTH = date(2045, 1, 1)
EVERYONE = "everyone"
BATCH = 25
N_WAITING, STUCK_AT_MG_DL = 8, 120
TESTED, MOST_SITES = ("upper_arm.back", "thigh.front"), 6
Item = TypeVar("Item")


@dataclass
class Loaded:
    """What has been brought in: who curates which group, the sign-ins to print, and who is who."""

    curators: dict[str, Account] = field(default_factory=dict)
    member_sign_in: str = ""
    accounts: dict[str, Account] = field(default_factory=dict)
    wearers: dict[str, Wearer] = field(default_factory=dict)
    groups: dict[str, Group] = field(default_factory=dict)
    plans: dict[str, str] = field(default_factory=dict)  # the token of a wearer's fair test

    @property
    def sign_ins(self) -> dict[str, str]:
        """Whom the printed sign-in names belong to."""
        curators = {f"moderator of {slug}": account.sign_in_name for slug, account in self.curators.items()}
        return curators | {"a member of harbour": self.member_sign_in}


def invent(scenario: Scenario) -> Community:
    """The same people and the same readings in every run."""
    plans = [GroupPlan(group.slug, group.people) for group in scenario.groups]
    return simulate_community(np.random.default_rng(scenario.seed), groups=plans)


def load_catalogue() -> None:
    for model in DEMO_MODELS:
        SensorModel.objects.get_or_create(
            slug=model.slug,
            defaults={
                "rated_life_days": model.rated_life_days,
                "licensed_sites": [{"site": site, "ages": "all"} for site in model.licensed_sites],
            },
        )


def load_people(scenario: Scenario, community: Community, say: Progress) -> Loaded:
    """Found the groups with a moderator each, and let the invented people join them."""
    loaded = Loaded()
    load_catalogue()
    for plan in scenario.groups:
        curator = _join(scenario.password)
        loaded.curators[plan.slug] = curator
        loaded.groups[plan.slug] = found_group(
            founder=curator,
            slug=plan.slug,
            name=plan.name,
            description=plan.description,
            public=plan.public,
            feeds_everyone=True,
            wearers="mixed",
        )
    loaded.curators[EVERYONE] = _join(scenario.password)
    appoint_moderator(everyone(), account=loaded.curators[EVERYONE])
    for some in _in_batches(community.people):
        with transaction.atomic():
            for person in some:
                _load_person(loaded, person.person, person.wearers, person.group)
    _register_plans(loaded, community.wears)
    first = loaded.accounts[community.people[0].person]
    first.set_password(scenario.password)
    first.save(update_fields=["password"])
    loaded.member_sign_in = first.sign_in_name
    say(f"{len(loaded.accounts)} invented people in {len(loaded.groups)} groups")
    return loaded


def _join(password: str | None) -> Account:
    return join(password=password, consent_version=CONSENT_VERSION, scopes=CONSENT).account


def _load_person(loaded: Loaded, person: str, wearers: tuple[str, ...], slug: str) -> None:
    """An account that nobody can sign in to; hashing hundreds of passwords would serve nobody."""
    account = _join(None)
    loaded.accounts[person] = account
    for name in wearers:
        child = name.endswith("/child")
        loaded.wearers[name] = _add_child(account) if child else wearer_of(account, None)
    group = loaded.groups[slug]
    invitation = None if group.public else make_invitation(group, by=loaded.curators[slug]).code
    join_group(group, account=account, invitation=invitation)


def _add_child(account: Account) -> Wearer:
    return add_wearer(account, relation="child", age_class="child", of_age_month=OF_AGE_MONTH, guardian=True)


def _register_plans(loaded: Loaded, wears: Sequence[SimulatedWear]) -> None:
    """For whoever is going to wear by lot, a fair test over these sites, long before."""
    sites: dict[str, dict[str, None]] = {}
    by_lot = [wear for wear in wears if wear.record["assignment"] == "randomised"]
    for wear in by_lot:
        sites.setdefault(wear.wearer, {})[wear.record["site"]] = None
    with transaction.atomic():
        for wear in by_lot:
            if wear.wearer not in loaded.plans:
                spots = [{"site": site} for site in dict.fromkeys([*sites[wear.wearer], *TESTED])][:MOST_SITES]
                content = {"spots": spots, "sensor_model": wear.record["sensor_model"]}
                account, wearer = loaded.accounts[wear.person], loaded.wearers[wear.wearer]
                loaded.plans[wear.wearer] = register_plan(account, content, wearer=wearer).token


def load_wears(loaded: Loaded, wears: Sequence[SimulatedWear]) -> int:
    """Upload the wears as their owners would, and give each to its owner's group."""
    for some in _in_batches(wears):
        with transaction.atomic():
            for wear in some:
                account = loaded.accounts[wear.person]
                by_lot = wear.record["assignment"] == "randomised"
                raw = json.dumps(wear.record | {"plan": loaded.plans.get(wear.wearer) if by_lot else None}).encode()
                uploaded = accept_upload(raw, account=account, wearer=loaded.wearers[wear.wearer])
                give_to_group(uploaded.wear.id, account=account, group=loaded.groups[wear.group])
    return len(wears)


def approve_everything(loaded: Loaded) -> int:
    """On a day of release, let every moderator approve what is queued; the invented members make no mistakes."""
    release()
    n_approved = 0
    for slug, curator in loaded.curators.items():
        group = everyone() if slug == EVERYONE else loaded.groups[slug]
        for some in _in_batches(queue_for_moderator(group, account=curator)):
            with transaction.atomic():
                for wear in some:
                    approve_wear(group, wear.id, by=curator)
            n_approved += len(some)
    return n_approved


def release() -> None:
    """What the sweep does on such a day, done now."""
    look_for_copies()
    release_batches(clock.today())


def left_to_decide(scenario: Scenario, community: Community, slug: str) -> list[SimulatedWear]:
    """A few more wears of members of one group, for whoever tries out moderating; the last one's sensor was stuck."""
    rng = np.random.default_rng([scenario.seed, N_WAITING])
    people = [person for person in community.people if person.group == slug][1 : N_WAITING + 1]
    wears = []
    for number, person in enumerate(people):
        record = single_wear(rng, TESTED[number % 2], DEMO_MODELS[0].slug, n_pairs=40) | {"assignment": "chosen"}
        if number == len(people) - 1:
            stuck = {"sensor": STUCK_AT_MG_DL, "sensor_mark": None}
            record |= {"pairs": [pair | stuck for pair in record["pairs"]]}
        wears.append(SimulatedWear(person.person, person.wearers[0], slug, 0, record))
    return wears


def _in_batches(everything: Sequence[Item]) -> Iterator[Sequence[Item]]:
    """Few enough at a time that the running service can write in between."""
    for start in range(0, len(everything), BATCH):
        yield everything[start : start + BATCH]
