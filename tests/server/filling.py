"""A database filled with very many wears that wait: the rows that joining, uploads, gifts and approvals leave.

They are written in bulk, from a few invented communities that are brought again and again: by other people, and with
numbers to know each wear by that are drawn. So are the keys of rows, and every run writes the same.
"""

import json
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from itertools import cycle
from typing import Any
from uuid import UUID

import numpy as np

from pooling.columns import columns_from, pack
from pooling.likeness import FEWEST_PAIRS, TIMED_BANDS, UNTIMED_BANDS
from pooling.record import header_of, parse_record
from pooling.simulate import (
    DEMO_MODELS,
    DEMO_SITES,
    Community,
    SimulatedWear,
    draw_law,
    simulate_community,
)
from pooling.summary import SummaryRules
from tests.redteam.world import LONG_AGO

SEED, WEARS_A_PERSON, ROWS_AT_ONCE, N_DIFFERENT = 20310301, 3, 1000, 6
ONE_IN = 3
"""Of so many communities one has its 250 people in the group that such ones share; the others' are a group alone."""
N_BANDS, INT64 = TIMED_BANDS + UNTIMED_BANDS, (-(2**63), 2**63 - 1)


@dataclass(frozen=True, slots=True)
class Brought:
    """What a wear leaves whoever brings it."""

    wearer: str
    group: str
    slot: int
    header: dict[str, Any]
    pairs: bytes
    n_pairs: int
    summary: bytes


class Filling:
    """Communities of 300 people: 250 of one group, 25 of a small one, and 25 who give straight to everyone.

    Each person brings three wears a cut-off, about.
    """

    def __init__(self, n_wears: int, n_cut_offs: int = 1) -> None:
        from server.groups.models import Group

        self._rng = np.random.default_rng(SEED)
        self._everyone = Group.objects.get(slug="everyone")
        self._groups: dict[str, Group] = {}
        self._ids_of: dict[int, list[UUID]] = defaultdict(list)
        _list_models()
        left = [n_wears] * n_cut_offs
        for number, (community, brought) in enumerate(self._again_and_again(n_cut_offs)):
            wanted = []
            for wear in brought:
                if left[wear.slot - 1]:
                    left[wear.slot - 1] -= 1
                    wanted.append(wear)
            if wanted:
                self._keep_wears(wanted, number, self._keep_people(community, number))
            if not any(left):
                break

    def approve(self, slot: int) -> None:
        """The wears of this cut-off wait from now on."""
        from server.core.chunks import chunks
        from server.wears.models import Wear

        for chunk in chunks(self._ids_of.pop(slot)):
            Wear.objects.filter(pk__in=chunk).update(previous_state="queued", state="approved")

    def _again_and_again(self, n_cut_offs: int) -> Iterator[tuple[Community, list[Brought]]]:
        from server.groups.selectors import rules_in_force

        # Every group of the filling has everyone's rules.
        law, rules = draw_law(self._rng, DEMO_SITES, DEMO_MODELS), rules_in_force(self._everyone).rules
        different = []
        for _ in range(N_DIFFERENT):
            own = simulate_community(self._rng, slots=n_cut_offs, wears_per_person=WEARS_A_PERSON * n_cut_offs, law=law)
            different.append((own, [_brought(wear, rules) for wear in own.wears]))
            yield different[-1]
        yield from cycle(different)

    def _id(self) -> UUID:
        return UUID(bytes=self._rng.bytes(16), version=4)

    def _group(self, slug: str, number: int) -> Any:
        from server.groups.models import Group, Protocol

        if slug == "lantern":
            return self._everyone
        name = slug if slug == "harbour" and number % ONE_IN == 0 else f"{slug}-{number}"
        if name not in self._groups:
            group = Group(
                id=self._id(), slug=name, name=name, feeds_everyone=True, wearers="mixed", founded_on=_joined_on()
            )
            group.save(force_insert=True)
            Protocol.objects.create(id=self._id(), group=group, version=1)
            self._groups[name] = group
        return self._groups[name]

    def _keep_people(self, community: Community, number: int) -> dict[str, tuple[Any, Any]]:
        """Each wearer with the account."""
        from server.accounts.models import Account, Consent, Wearer

        found, accounts, consents = {}, [], []
        for person in community.people:
            account = Account(
                id=self._id(),
                sign_in_name=f"{number}-{person.person}",
                joined_on=_joined_on(),
                pseudonym=self._id(),
                password="!",
            )
            accounts.append(account)
            consents += _consents(account, self._id)
            for name in person.wearers:
                found[name] = account, Wearer(id=self._id(), account=account, **_about(name))
        Account.objects.bulk_create(accounts)
        Wearer.objects.bulk_create([wearer for _, wearer in found.values()])
        Consent.objects.bulk_create(consents)
        return found

    def _keep_wears(self, wears: list[Brought], number: int, owners: dict[str, tuple[Any, Any]]) -> None:
        from server.accounts.models import Holding
        from server.wears.copies import hidden
        from server.wears.intake import MONTHS_KEPT, month_after
        from server.wears.models import Wear, WearPairs, WearSummary

        month, rows = _joined_on().replace(day=1), []
        for each in wears:
            new, (account, wearer) = self._id(), owners[each.wearer]
            bands = tuple(self._rng.integers(*INT64, N_BANDS if each.n_pairs >= FEWEST_PAIRS else 0).tolist())
            wear = Wear(
                id=new,
                state="queued",
                previous_state="private",
                shown_state="queued",
                group=self._group(each.group, number),
                header=each.header,
                likeness=hidden(bands, wear_id=new),
                uploaded_month=month,
                released=True,
            )
            pairs = WearPairs(wear=wear, block=each.pairs, erase_on=month_after(month, MONTHS_KEPT))
            of_rules = {"protocol_version": 1, "everyone_version": 1}
            summary = WearSummary(wear=wear, n_pairs=each.n_pairs, payload=each.summary, **of_rules)
            rows.append((wear, pairs, summary, Holding(wear_id=new, account=account, wearer=wearer)))
            self._ids_of[each.slot].append(new)
        for model, own in zip((Wear, WearPairs, WearSummary, Holding), zip(*rows, strict=True), strict=False):
            model.objects.bulk_create(own, batch_size=ROWS_AT_ONCE)


def _brought(wear: SimulatedWear, rules: SummaryRules) -> Brought:
    from server.wears.intake import summary_of
    from server.wears.models import Wear

    record = parse_record(json.dumps(wear.record | {"plan": None}).encode())
    columns, header = columns_from(record), header_of(record)
    summary = summary_of(Wear(header=header), columns, rules)
    about = (wear.wearer, wear.group, wear.slot, header)
    return Brought(*about, pack(columns), summary.n_pairs, bytes(summary.payload))


def _list_models() -> None:
    from server.core.models import SensorModel

    for model in DEMO_MODELS:
        SensorModel.objects.get_or_create(
            slug=model.slug, defaults={"rated_life_days": model.rated_life_days, "licensed_sites": []}
        )


def _joined_on() -> date:
    return date.fromisoformat(LONG_AGO)


def _about(wearer: str) -> dict[str, Any]:
    if wearer.endswith("/child"):
        return {"relation": "child", "age_class": "child", "of_age_month": date(2045, 1, 1)}
    return {"relation": "self", "age_class": "adult"}


def _consents(account: Any, new_id: Any) -> Iterator[Any]:
    from server.accounts.consents import CONSENT_VERSION
    from server.accounts.models import Consent, Scope
    from server.accounts.selectors import CHAIN_START, chained

    before = CHAIN_START
    for number, scope in enumerate((Scope.KEEP, Scope.POOL, Scope.GUARDIAN), start=1):
        consent = Consent(
            id=new_id(),
            pseudonym=account.pseudonym,
            number=number,
            scope=scope,
            given=True,
            text_version=CONSENT_VERSION,
            on=_joined_on(),
        )
        before = consent.chain_hash = chained(before, consent)
        yield consent
