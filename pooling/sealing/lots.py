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
    `pooling.ledger.plan_lots` proves rests on that. The side of the lot has masking noise of its own, the other that of
    the block less it: the two together tell nothing that the block does not.

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
    of_block = units.values.q1[row, inside]
    block_sd = constants.sum_mask_sd(of_block.max().item())
    lot, chosen = (_side(wears, side, row, constants.reference) for side in (wears.by_lot, ~wears.by_lot))
    sd = constants.sum_mask_sd(_heaviest(lot))
    weight_sd = constants.mask * MASK_SDS * SPLIT_SD * of_block.max().item()
    name = (cell.scope, cell.place, cell.model)
    noise = sd * masks.draw("lot", *name)[CHANNEL]
    block_noise = block_sd * masks.draw("block", *name)[CHANNEL]
    weight_noise = weight_sd * masks.draw("lot weight", *name)[CHANNEL]

    def numbers(side: Floats, added: float, added_weight: float, variance: float) -> tuple[int, ...]:
        """PART_SUMS."""
        (first,), (weight,) = grid_sums(side, np.array([0]), version.grid_bits)
        masked = version.to_grid(added), version.to_grid(added_weight)
        return first + masked[0], weight + masked[1], version.to_grid(variance), version.to_grid(weight_sd**2)

    sums = {
        f"{CHOSEN}.{CHANNEL}": numbers(chosen, block_noise - noise, -weight_noise, block_sd**2 + sd**2),
        f"{LOT}.{CHANNEL}": numbers(lot, noise, weight_noise, sd**2),
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


def _heaviest(side: Floats) -> float:
    return float(side[1].max())
