"""The wears of a block by how their site was picked, by lot or chosen: a part holds a whole wear or none of it."""

from collections.abc import Sequence

import numpy as np

from pooling.errors import TooFewPeople
from pooling.sealing.grid import Floats, exact_sums, grid_sums
from pooling.sealing.masking import Masks
from pooling.sealing.parts import SealedParts, Wears
from pooling.sealing.record import Cell
from pooling.sealing.unit import Bools, Member, Units
from pooling.sealing.version import CHANNELS, MASK_SDS, SealVersion

LOT, CHOSEN = "assignment.lot", "assignment.chosen"
CHANNEL = "direct"
SPLIT_SD = 0.5
"""Standard deviation between wearers of the share of their wears that was drawn by lot: at most so much."""
APART = 1.0
"""Variance of the noise that one side has and the other lacks, in variances of the block's."""
ALIKE = (0.25 - APART) / (0.25 + APART)
"""Correlation of the noise of both sides: each has half of the block's and what tells them apart."""


def seal_lot(
    cell: Cell,
    inside: slice,
    units: Units,
    members: Sequence[Member],
    *,
    end_bucket: int,
    version: SealVersion,
    masks: Masks,
    k: int,
) -> SealedParts:
    """Add up the wears of a planned block whose site was drawn by lot, and those whose site was chosen.

    Each wear has the weight that it has in the sum of its block, so that both sides add up to the block: what
    `pooling.ledger.plan_lots` proves rests on that.

    Claim: beside the block, the sides tell of a wear as much as one more sum with 4 APART times the block's variance of
    noise, whichever side it is on. Each side has half of the block's noise, and noise that the other lacks: half the
    difference of the sides holds half of the wear and that noise alone, and block and difference are all there is. Were
    all noise of the block on one side, wears on the other would be seen twice.

    Parameters
    ----------
    cell : Cell
    inside : slice
        Where the block's units stand.
    units, members
        All of the slot, gathered by wearer and as they came.
    end_bucket, version, masks, k
        As for `seal_parts`.

    Raises
    ------
    TooFewPeople
        One of the sides has fewer than k accounts.
    """
    wears = Wears.of([inside], units, members)
    accounts = np.repeat(units.accounts[inside], units.n_wears[inside])
    for side in (wears.by_lot, ~wears.by_lot):
        if (n_accounts := len(set(accounts[side]))) < k:
            raise TooFewPeople(f"wears by lot, and chosen ones, need {k} accounts and have {n_accounts}")
    constants, row = version.channels[CHANNEL], CHANNELS.index(CHANNEL)
    heaviest, name = units.values.q1[row, inside].max().item(), (cell.scope, cell.place, cell.model)
    sd, weight_sd = constants.sum_mask_sd(heaviest), constants.mask * MASK_SDS * SPLIT_SD * heaviest
    half = sd * masks.draw("block", *name)[CHANNEL] / 2
    apart = APART**0.5 * sd * masks.draw("lot", *name)[CHANNEL]
    weight_apart = weight_sd * masks.draw("lot weight", *name)[CHANNEL]
    variances = version.to_grid((0.25 + APART) * sd**2), version.to_grid(weight_sd**2)

    def numbers(side: Bools, added: float, added_weight: float) -> tuple[int, ...]:
        """PART_SUMS."""
        (first,), (weight,) = grid_sums(_side(wears, side, row, constants.reference), np.array([0]), version.grid_bits)
        return first + version.to_grid(added), weight + version.to_grid(added_weight), *variances

    sums = {
        f"{CHOSEN}.{CHANNEL}": numbers(~wears.by_lot, half - apart, -weight_apart),
        f"{LOT}.{CHANNEL}": numbers(wears.by_lot, half + apart, weight_apart),
    }
    return SealedParts(
        end_bucket,
        version.number,
        len(set(accounts)),
        sums,
        scope=cell.scope,
        place=cell.place,
        model=cell.model,
    )


def _side(wears: Wears, inside: Bools, row: int, reference: float) -> Floats:
    """Per wearer, the value and the weight of the own wears of one side."""
    whole = wears.whole()
    weight = np.where(inside, wears.weight[row], 0.0)
    n = weight * whole["n_pairs"]
    return exact_sums(np.array([weight * whole["d"] - reference * n, n]), wears.first_of_person)
