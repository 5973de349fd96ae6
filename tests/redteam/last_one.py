"""What rounding hides of the last one in a sum: `python -m tests.redteam.last_one [TRIES]`

Whoever has the whole database, or all others of a block who put their data together, subtract what they know from a
sealed block. What is left is the last one's value up to rounding. Two numbers of the block say something of it: the
mean and the squares about it. The attacker weighs every value by how common it is, keeps those that would have been
sealed as the same numbers, and says the one with the most weight within half a person sd; the guess is the same without
the block, and a naive build rounds nothing.

Ours does not stand: what comes out is right far more often than guesses are. So this is no part of the suite. The exit
code is 1 as long as some outcome comes out more than 5 points above guessing.
"""

import sys
from collections.abc import Iterator
from dataclasses import dataclass
from types import SimpleNamespace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pooling.sealing import CHANNELS, SEAL_VERSION_1, Cell, Member, SealedBlock, seal_slot
from pooling.sealing.records import BLOCK_SUMS
from pooling.sealing.unit import units_of
from pooling.sealing.version import n_alike
from tests.calibration.pools import Stratum, Summary

CELL = Cell("everyone", "calf", "demo-a14")
MARGIN = 0.05
N_PAIRS, STILL_ON_FRAC, REACTION_FRAC = 40, 0.82, 0.15
SIZES = {"accuracy": (5, 10, 20), "skin": (10, 20), "survival": (5, 10)}
FLOORS = {"skin": 10}


@dataclass(frozen=True)
class Tries:
    """How often each attacker was within half a person sd."""

    guess: float
    unrounded: float
    mean: float
    mean_and_squares: float


def attack(family: str, channel: str, n_people: int, *, n_tries: int, seed: int) -> Tries:
    rng = np.random.default_rng([seed, n_people])
    values = _common(family, channel)
    hits = np.array([_one(rng, family, channel, n_people, *values) for _ in range(n_tries)])
    return Tries(*hits.mean(axis=0).tolist())


def _one(
    rng: np.random.Generator,
    family: str,
    channel: str,
    n_people: int,
    values: NDArray[np.float64],
    weight: NDArray[np.float64],
) -> tuple[bool, ...]:
    members = [_member(rng, family, f"p{number:02d}") for number in range(n_people)]
    k = FLOORS.get(family, 5)
    shared: dict[str, Any] = {"open_places": (), "end_bucket": 24, "k": k, "family": family}
    (block,) = seal_slot([(CELL, members)], version=SEAL_VERSION_1, **shared).blocks
    units = [unit.channels[channel] for unit in units_of(members, SEAL_VERSION_1, family)]
    q, x = np.array([unit.q1 for unit in units]), np.array([unit.value for unit in units])
    constants = SEAL_VERSION_1.channels[channel]
    near = 0.5 * constants.person_variance**0.5
    mean = (q[:-1] @ x[:-1] + q[-1] * values) / q.sum()
    squares = q[:-1] @ x[:-1] ** 2 + q[-1] * values**2 - q.sum() * mean**2
    sealed_mean, sealed_squares = _sealed(block, channel)
    fits_mean = np.abs(mean - sealed_mean) <= constants.steps(n_alike(q))[0] / 2 + 1e-9
    fits_both = fits_mean & (np.abs(squares - sealed_squares) <= constants.squares_step(q.max()) / 2 + 1e-9)
    said = [_most_likely(values, weight * fits, near) for fits in (1, fits_mean, fits_both)]
    guess, by_mean, by_both = (bool(abs(each - x[-1]) <= near) for each in said)
    return guess, True, by_mean, by_both


def _sealed(block: SealedBlock, channel: str) -> tuple[float, float]:
    """Mean and squares about it, as anybody can compute them from the sealed integers."""
    sums = dict(zip(BLOCK_SUMS, block.sums[channel], strict=True))
    squares = (sums["second"] * sums["weight"] - sums["first"] ** 2) / sums["weight"]
    return sums["first"] / sums["weight"], SEAL_VERSION_1.from_grid(round(squares))


def _most_likely(values: NDArray[np.float64], weight: NDArray[np.float64], near: float) -> float:
    below = np.concatenate([[0.0], np.cumsum(weight)])
    first, end = np.searchsorted(values, values - near), np.searchsorted(values, values + near, side="right")
    return float(values[int(np.argmax(below[end] - below[first]))])


def _common(family: str, channel: str) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Values that a wear may have and how common they are, from other people of the same law."""
    rng = np.random.default_rng(99)
    members = [_member(rng, family, f"p{number:04d}") for number in range(3000)]
    found = np.array([unit.channels[channel].value for unit in units_of(members, SEAL_VERSION_1, family)])
    if family != "accuracy":
        values, counts = np.unique(found, return_counts=True)
        return values, counts / counts.sum()
    grid = np.linspace(found.min(), found.max(), 1201)
    density, edges = np.histogram(found, bins=40)
    return grid, density[np.clip(np.searchsorted(edges, grid) - 1, 0, 39)].astype(float)


def _member(rng: np.random.Generator, family: str, name: str) -> Member:
    if family == "accuracy":
        location = rng.normal(0, 0.045) + rng.normal(0, 0.03)
        log_variance = 2 * np.log(0.09) + rng.normal(0, 0.38) + rng.normal(0, 0.25)
        readings = location + np.exp(log_variance / 2) * rng.standard_normal(N_PAIRS)
        return Member(name, name, Summary({"all": Stratum.of(readings)}))
    still_on = rng.random() < STILL_ON_FRAC
    summary: Any = SimpleNamespace(
        strata={},
        zones=(),
        worn_min=14 * 1440 if still_on else int(rng.uniform(1, 13) * 1440),
        end_reason="completed" if still_on else "fell_off",
        skin_grade=2 if rng.random() < REACTION_FRAC else 0,
        ratings=None,
    )
    return Member(name, name, summary)


def _outcomes() -> Iterator[tuple[str, str]]:
    yield from (("accuracy", channel) for channel in CHANNELS if channel in ("location", "dispersion", "direct"))
    yield from (("skin", "reaction"), ("survival", "on10"), ("survival", "on_rated"))


def main() -> int:
    n_tries = int(sys.argv[1]) if len(sys.argv) > 1 else 100
    sys.stdout.write(f"{n_tries} tries each, seed 1\n")
    sys.stdout.write("outcome     people  guess  unrounded  mean  mean and squares\n")
    stood = True
    for family, channel in _outcomes():
        for n_people in SIZES[family]:
            found = attack(family, channel, n_people, n_tries=n_tries, seed=1)
            sys.stdout.write(
                f"{channel:<10}  {n_people:>6}  {found.guess:.2f}   {found.unrounded:.2f}       {found.mean:.2f}"
                f"  {found.mean_and_squares:.2f}\n"
            )
            sys.stdout.flush()
            stood &= max(found.mean, found.mean_and_squares) <= found.guess + MARGIN
    return 0 if stood else 1


if __name__ == "__main__":
    sys.exit(main())
