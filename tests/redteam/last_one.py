"""What is left open of the last one in a sum: `python -m tests.redteam.last_one [--tries N] [--seed N]`

Whoever has the whole database, or all others of a block who put their data together, subtract what they know from what
is sealed. What is left is the last one's part and masking noise. The attacker knows the law that people follow, all
weights, the size of the noise and how it is alike from channel to channel, weighs 4,000 other people of that law by how
well they explain what is left, and says the value with the most weight within half a person sd; the guess is the same
without the block, and a naive build adds no noise. He looks at one channel's sum, or at all channels together: sums,
squares, sampling variances, shape of the readings and, for somebody in two blocks, the other block and the tie. Where a
block is split, half of its people by lot, he looks at both sides besides and knows on which the last one is; `by lot`
is the side itself, which he does not know then.

The exit code is 1 where one block's outcome comes out more than 5 points above guessing, or the side more than 22.
"""

import argparse
import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from pooling.crossing import Crossed
from pooling.sealing import FAMILIES, FEWEST_PEOPLE, SEAL_VERSION_1, Cell, Member, SealVersion, SlotSeal, seal_slot
from pooling.sealing.lots import ALIKE, CHANNEL, CHOSEN, LOT
from pooling.sealing.masking import likeness
from pooling.sealing.records import BETWEEN_SUMS, BLOCK_SUMS
from pooling.sealing.unit import units_of
from pooling.sealing.wear import assumed_noise
from tests.calibration.outcomes import ENDS
from tests.calibration.outcomes import Summary as Outcome
from tests.calibration.pools import Stratum, Summary, ties_between

Floats = NDArray[np.float64]
Looked = tuple[Floats, Floats]
"""Sealed numbers by channel, and the variance of the noise in each."""
CALF, CHEST = Cell("everyone", "calf", "demo-a14"), Cell("everyone", "chest", "demo-a14")
NAIVE = SEAL_VERSION_1.unmasked(number=99, grid_bits=40)
MARGIN, MARGIN_OF_SIDES = 0.05, 0.22
"""The other is for which side somebody is on: half are on each, and noise of 1.15 people leaves .67 (normal law)."""
N_PAIRS, LIFE_DAYS, LASTING_FRAC, REACTION_FRAC = 40, 14, 0.82, 0.15
N_OTHERS = 4_000
BY_LOT = "by lot"
DIRECT = slice(FAMILIES["accuracy"].index(CHANNEL), FAMILIES["accuracy"].index(CHANNEL) + 1)
"""The one channel that sides hold; other families with fewer channels have none there."""
FINEST = 0.02
"""What a naive build leaves open, in person sds of a value, so that one of the 4,000 explains it."""
SCENES = (
    ("accuracy", (5, 10, 20), 1),
    ("survival", (5, 10, 20), 1),
    ("skin", (10, 20), 1),
    ("ease", (10, 20), 1),
    ("accuracy", (12, 20), 2),
    ("survival", (12, 20), 2),
)


@dataclass(frozen=True)
class Tries:
    """How often each attacker was right about a channel of the last one's first wear; `sides` sees a block split."""

    channel: str
    guess: float
    naive: float
    alone: float
    together: float
    sides: float | None = None

    @property
    def margin(self) -> float:
        return MARGIN_OF_SIDES if self.channel == BY_LOT else MARGIN

    @property
    def by_everything(self) -> float:
        return self.together if self.sides is None else self.sides

    @property
    def best(self) -> float:
        return max(self.alone, self.together, self.by_everything)

    @property
    def stood(self) -> bool:
        return self.best <= self.guess + self.margin


def attack(family: str, n_people: int, *, n_cells: int = 1, n_tries: int, seed: int) -> list[Tries]:
    """Try so many last ones; in two cells everybody is in both."""
    rng = np.random.default_rng([seed, n_people, n_cells])
    hits = np.mean([_one(rng, family, n_people, n_cells) for _ in range(n_tries)], axis=0)
    channels = (*channels_of(family), BY_LOT)[: hits.shape[1]]
    return [Tries(channel, *hits[:, channels.index(channel)].tolist()) for channel in channels if channel != "tail"]


def channels_of(family: str) -> tuple[str, ...]:
    """Without the last day of all sensors' life, which is the rated life under another name."""
    return tuple(channel for channel in FAMILIES[family] if channel != f"on{LIFE_DAYS}")


@dataclass(frozen=True)
class People:
    """What sealing adds up: values, weights in blocks and ties (people x cells x channels); variances, shape, side."""

    x: Floats
    q1: Floats
    q2: Floats
    noise: Floats
    shape: Floats
    side: Floats
    """1/2 for a wear by lot, -1/2 for a chosen one: half of what the two sides of the first block differ by."""

    @classmethod
    def of(cls, wears: Sequence[Sequence[Member]], family: str) -> "People":
        """Read the wears of people, one in each cell."""
        cells = [units_of([own], SEAL_VERSION_1, family) for own in zip(*wears, strict=True)]
        rows = [FAMILIES[family].index(channel) for channel in channels_of(family)]
        x, q1, q2, noise = (
            np.stack([getattr(units.values, name)[rows].T for units in cells], axis=1)
            for name in ("value", "q1", "q2", "noise")
        )
        shapes = [units.wear_pairs * units.kurtosis if units.kurtosis.size else np.zeros(len(wears)) for units in cells]
        side = np.array([own[0].by_lot - 0.5 for own in wears])
        return cls(x, q1, q2, noise, np.stack(shapes, axis=1), side)

    def sums(self) -> dict[str, Floats]:
        """Each person's part of every sum that is linear in people (people x channels or x 1)."""
        found = {f"block {cell}": self.q1[:, cell] * self.x[:, cell] for cell in range(self.x.shape[1])}
        found["seen"] = (self.q1 * self.noise).sum(axis=1)
        found["kurtosis"] = self.shape.sum(axis=1, keepdims=True)
        found["weights of sides"] = self.side[:, None] * self.q1[:, 0, DIRECT]
        found["sides"] = found["weights of sides"] * self.x[:, 0, DIRECT]
        if self.x.shape[1] > 1:
            away = self.x - (self.q2 * self.x).sum(axis=1, keepdims=True) / self.q2.sum(axis=1, keepdims=True)
            found |= {f"tie {cell}": self.q2[:, cell] * away[:, cell] for cell in range(self.x.shape[1])}
            found["tie squares"] = (self.q2 * away**2).sum(axis=1)
        return found

    def only(self, chosen: Sequence[int]) -> "People":
        return People(*(own[list(chosen)] for own in (self.x, self.q1, self.q2, self.noise, self.shape, self.side)))

    def all_on(self, side: float) -> "People":
        return replace(self, side=np.full(len(self.x), side))


def _one(rng: np.random.Generator, family: str, n_people: int, n_cells: int) -> Floats:
    """For each attacker, whether he was right about each channel and, where the block is split, about the side."""
    wears = [_person(rng, family, f"p{number:02d}", n_cells) for number in range(n_people)]
    k, key = FEWEST_PEOPLE.get(family, 5), rng.bytes(32)
    split = family == "accuracy" and n_cells == 1 and n_people >= 2 * k
    if split:
        # Every second one, so that nobody else's draw changes; the key says which.
        wears = [[replace(own[0], by_lot=bool((number + key[0]) % 2))] for number, own in enumerate(wears)]
    blocks = [(cell, [own[index] for own in wears]) for index, cell in enumerate((CALF, CHEST)[:n_cells])]
    ties, lots = ties_between(blocks, k=k) if n_cells > 1 else (), [CALF] if split else []
    linkers = [int(name[1:]) for tie in ties for name in tie.linkers]
    last = linkers[-1] if linkers else n_people - 1
    shared = {"ties": ties, "lots": lots, "open_places": (), "end_bucket": 24, "key": key, "k": k, "family": family}
    told = {
        name: dict(_told(seal_slot(blocks, version=version, **shared), family, version))
        for name, version in (("naive", NAIVE), ("ours", SEAL_VERSION_1))
    }
    everybody, others = People.of(wears, family), [number for number in range(n_people) if number != last]
    known, tied = everybody.only(others), everybody.only([number for number in linkers if number != last])
    truth, near, law = everybody.x[last, 0], _near(family), _law(family, n_cells)
    found = [np.zeros((N_OTHERS, len(truth)))]
    found += [_alone(told[name]["block 0"], known, family) for name in ("naive", "ours")]
    side = float(everybody.side[last])
    unsplit = {name: looked for name, looked in told["ours"].items() if "sides" not in name}
    for own in (unsplit, told["ours"]) if split else (unsplit,):
        weight = _together(own, known, tied, law.all_on(side), family)
        found.append(np.repeat(weight[:, None], len(truth), axis=1))
    values = law.x[:, 0]
    said = [
        [_most_likely(values[:, index], likely[:, index], near[index]) for index in range(len(truth))]
        for likely in found
    ]
    right = np.abs(np.array(said) - truth) <= near + 1e-9
    return np.column_stack([right, _right_about_side(side, told["ours"], known, tied, law)]) if split else right


def _right_about_side(
    side: float, told: dict[str, Looked], known: People, tied: People, law: People
) -> tuple[bool, ...]:
    """Whoever guesses, sees no noise, the weights of the sides alone, all but the sides, and everything."""

    def says(looks: dict[str, Looked]) -> float:
        weights = {own: _together(looks, known, tied, law.all_on(own), "accuracy") for own in (0.5, -0.5)}
        return max(weights, key=lambda own: np.logaddexp.reduce(weights[own]))

    guess = side == 0.5
    name = "weights of sides"
    return guess, True, says({name: told[name]}) == side, guess, says(told) == side


def _told(sealed: SlotSeal, family: str, version: SealVersion) -> Iterator[tuple[str, Looked]]:
    """Everything sealed that is a function of somebody's values."""
    channels = channels_of(family)

    def column(sums: dict[str, tuple[int, ...]], index: int) -> Floats:
        return np.array([version.from_grid(sums[channel][index]) for channel in channels])

    for cell, block in enumerate(sealed.blocks):
        yield f"block {cell}", tuple(column(block.sums, BLOCK_SUMS.index(name)) for name in ("first", "mask"))
    for bundle in sealed.bundles:
        if bundle.kind == "between":
            squares, mask, seen = (
                column(bundle.sums, BETWEEN_SUMS.index(name)) for name in ("squares", "mask", "seen")
            )
            yield "squares", (squares, mask)
            yield "seen", (seen, _seen_variance(family, version))
        if bundle.kind == "kurtosis":
            yield (
                "kurtosis",
                (
                    np.array([version.from_grid(bundle.sums["location"][0])]),
                    np.array([version.shape_mask_sd(N_PAIRS) ** 2]),
                ),
            )
    for record in sealed.parts:
        lot, chosen = ([version.from_grid(unit) for unit in record.sums[f"{side}.{CHANNEL}"]] for side in (LOT, CHOSEN))
        yield "sides", (np.array([(lot[0] - chosen[0]) / 2]), np.array([lot[2] * (1 - ALIKE) / 2]))
        yield "weights of sides", (np.array([(lot[1] - chosen[1]) / 2]), np.array([lot[3]]))
    for tie in sealed.ties:
        size = len(tie.cells)
        for cell in range(size):
            yield f"tie {cell}", (column(tie.sums, cell), column(tie.sums, size + cell))
        yield "tie squares", (column(tie.sums, -5), column(tie.sums, -1))


def _seen_variance(family: str, version: SealVersion) -> Floats:
    """Of the noise in sums of sampling variances, everybody weighing alike."""
    law = _law(family, 1)
    assumed = [assumed_noise(channel, N_PAIRS, version) for channel in channels_of(family)]
    heaviest = law.q1[0, 0] * assumed
    sds = [
        version.channels[channel].seen_mask_sd(own) for channel, own in zip(channels_of(family), heaviest, strict=True)
    ]
    return np.array(sds) ** 2


def _alone(looked: Looked, known: People, family: str) -> Floats:
    """Log weight of each of the others of the law, channel by channel, by the sum of the block."""
    law, (told, variance) = _law(family, known.x.shape[1]), looked
    least = FINEST * law.q1[0, 0] * _near(family, half=1.0)
    missing = told - (known.q1[:, 0] * known.x[:, 0]).sum(axis=0) - law.q1[:, 0] * law.x[:, 0]
    return -0.5 * missing**2 / np.maximum(variance, least**2)


def _together(told: dict[str, Looked], known: People, tied: People, law: People, family: str) -> Floats:
    """Log weight of each of the others of the law by all channels of all that was sealed."""
    weight = np.zeros(N_OTHERS)
    own, theirs, of_tied = law.sums(), known.sums(), tied.sums() if len(tied.x) else {}
    predicted = {
        name: own[name] + (of_tied if "tie" in name else theirs)[name].sum(axis=0) for name in told if name in own
    }
    predicted["squares"] = sum(_squares(known, law, cell) for cell in range(known.x.shape[1]))
    alike = likeness(SEAL_VERSION_1, family)
    kept = [FAMILIES[family].index(channel) for channel in channels_of(family)]
    alike = alike[np.ix_(kept, kept)]
    for name, (numbers, variance) in told.items():
        noisy = np.flatnonzero(variance > 0)
        sds = np.sqrt(variance[noisy])
        matrix = alike[np.ix_(noisy, noisy)] if len(variance) == len(alike) else np.eye(len(noisy))
        missing = (numbers - predicted[name])[:, noisy] / sds
        weight -= 0.5 * (missing @ np.linalg.inv(matrix) * missing).sum(axis=1)
    return weight


def _squares(known: People, law: People, cell: int) -> Floats:
    """Squares about the mean of a block of the known people and one of the law (others of the law x channels)."""
    q, x = known.q1[:, cell], known.x[:, cell]
    own_q, own = law.q1[:, cell], law.x[:, cell]
    total = q.sum(axis=0) + own_q
    return (q * x**2).sum(axis=0) + own_q * own**2 - ((q * x).sum(axis=0) + own_q * own) ** 2 / total


def _most_likely(values: Floats, log_weight: Floats, near: float) -> float:
    order = np.argsort(values)
    ordered, weight = values[order], np.exp(log_weight - log_weight.max())[order]
    below = np.concatenate([[0.0], np.cumsum(weight)])
    first, end = np.searchsorted(ordered, ordered - near), np.searchsorted(ordered, ordered + near, side="right")
    return float(ordered[int(np.argmax(below[end] - below[first]))])


def _near(family: str, *, half: float = 0.5) -> Floats:
    constants = [SEAL_VERSION_1.channels[channel] for channel in channels_of(family)]
    return np.array(
        [half * (1e-6 if own.masked_people and half == 0.5 else own.person_variance**0.5) for own in constants]
    )


@lru_cache(maxsize=8)
def _law(family: str, n_cells: int) -> People:
    """Other people of the same law."""
    rng = np.random.default_rng(99)
    return People.of([_person(rng, family, f"p{number:05d}", n_cells) for number in range(N_OTHERS)], family)


def _person(rng: np.random.Generator, family: str, name: str, n_cells: int) -> list[Member]:
    """One wear in each cell."""
    if family == "accuracy":
        location, log_variance = rng.normal(0, 0.04), 2 * np.log(0.09) + rng.normal(0, 0.35)
        return [Member(name, name, _readings(rng, location, log_variance)) for _ in range(n_cells)]
    lasting, reacting, ease = rng.normal(0, 0.7), rng.normal(0, 0.7), rng.normal(7, 1.2)
    return [Member(name, name, _outcome(rng, lasting, reacting, ease), LIFE_DAYS) for _ in range(n_cells)]


def _readings(rng: np.random.Generator, location: float, log_variance: float) -> Summary:
    at_cell = location + rng.normal(0, 0.02) + rng.normal(0, 0.03)
    sd = np.exp((log_variance + rng.normal(0, 0.15) + rng.normal(0, 0.25)) / 2)
    own = Stratum.of(at_cell + sd * rng.standard_normal(N_PAIRS))
    return Summary({"all": own}, crossed={0: Crossed(N_PAIRS, N_PAIRS * own.m, own.a1, own.k15, own.k20, N_PAIRS)})


def _outcome(rng: np.random.Generator, lasting: float, reacting: float, ease: float) -> Outcome:
    chance, reacts = (
        1 / (1 + np.exp(-(np.log(p / (1 - p)) + own)))
        for p, own in ((LASTING_FRAC, lasting), (REACTION_FRAC, reacting))
    )
    life = LIFE_DAYS * 1440
    worn = life * np.log(rng.random()) / np.log(chance)
    return Outcome(
        worn_min=life if worn >= life else max(int(worn), 1),
        end_reason="completed" if worn >= life else str(rng.choice(list(ENDS), p=list(ENDS.values()))),
        skin_grade=2 * int(rng.random() < reacts),
        ratings=_Ease(int(np.clip(round(rng.normal(ease, 1.2)), 0, 10))),
    )


@dataclass(frozen=True)
class _Ease:
    ease: int
    comfort: None = None
    discretion: None = None


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.redteam.last_one", description=__doc__)
    parser.add_argument("--tries", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    given = parser.parse_args()
    sys.stdout.write(f"{given.tries} tries each, seed {given.seed}\n")
    sys.stdout.write("outcome        blocks  people  guess  naive  by its sum  by everything  and by sides\n")
    stood = True
    for family, sizes, n_cells in SCENES:
        for n_people in sizes:
            for found in attack(family, n_people, n_cells=n_cells, n_tries=given.tries, seed=given.seed):
                sys.stdout.write(
                    f"{found.channel:<14} {n_cells:>6}  {n_people:>6}  {found.guess:>5.2f}  {found.naive:>5.2f}"
                    f"  {found.alone:>10.2f}  {found.together:>13.2f}"
                    f"  {'-' if found.sides is None else f'{found.sides:.2f}':>12}\n"
                )
                stood &= found.stood or n_cells > 1
            sys.stdout.flush()
    return 0 if stood else 1


if __name__ == "__main__":
    sys.exit(main())
