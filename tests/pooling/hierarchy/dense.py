"""The same algebra record by record: every wear is a column, so sealed sums can be compared with the whole."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from pooling.sealing import CHANNELS, Cell, Member, SealVersion
from pooling.sealing.wear import Strata, assumed_noise, wear_values

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class DenseWears:
    """All wears of several slots for one channel. A unit is one wearer in one block; rows are as many as named."""

    value: Floats
    noise: Floats
    to_units: Floats  # units x wears: shares of the wears
    unit_cell: list[Cell]
    unit_block: list[int]
    unit_person: list[str]
    wear_person: list[str]
    wear_cell: list[Cell]
    total: Floats  # units: summed weight of the wears
    weight: Floats  # wears

    @classmethod
    def of(cls, blocks: list[tuple[Cell, list[Member]]], channel: str, version: SealVersion) -> "DenseWears":
        """Lay out every wear of every block."""
        wears, unit_of, units = [], [], {}
        for number, (cell, members) in enumerate(blocks):
            for member in members:
                wears.append((cell, member))
                unit_of.append(units.setdefault((number, cell, member.person), len(units)))
        constants, row = version.channels[channel], CHANNELS.index(channel)
        strata = Strata.of([member.summary.strata["all"] for _, member in wears])
        values = wear_values(strata, np.zeros(len(wears), dtype=int), version)
        weight = 1 / (constants.wear_sd**2 + assumed_noise(channel, strata.n_pairs, version))
        indicator = np.zeros((len(units), len(wears)))
        indicator[unit_of, np.arange(len(wears))] = 1
        total = indicator @ weight
        found = cls(
            values.value[row],
            1 / weight - constants.wear_sd**2,
            indicator * weight / total[:, None],
            [cell for _, cell, _ in units],
            [number for number, *_ in units],
            [person for *_, person in units],
            [member.person for _, member in wears],
            [cell for cell, _ in wears],
            total,
            weight,
        )
        # Sampling variances are the assumed ones, times what readings tell of all of them together.
        seen = found.q(constants.person_variance) @ found.to_units**2
        return replace(found, noise=found.noise * (seen @ values.noise[row]) / (seen @ found.noise))

    def covariance(self, person: float, person_cell: float, wear: float) -> Floats:
        """Covariance of all wears for given variances."""
        same_person = np.equal.outer(self.wear_person, self.wear_person)
        where = [(cell.place, cell.model) for cell in self.wear_cell]
        labels = np.array([hash(cell) for cell in where])
        same_cell = np.equal.outer(labels, labels)
        return person * same_person + person_cell * (same_person & same_cell) + np.diag(wear + self.noise)

    def q(self, variance: float) -> Floats:
        """Weight of each unit against a variance between units."""
        return variance / (variance + 1 / self.total)

    def cell_means(self, cells: list[tuple[str, str]], q1: Floats) -> Floats:
        """Matrix (cells x wears) that takes wears to weighted cell means."""
        member = np.array([[(cell.place, cell.model) == c for cell in self.unit_cell] for c in cells], dtype=float)
        weighted = member * q1
        return weighted / weighted.sum(axis=1, keepdims=True) @ self.to_units

    def between_form(self, q1: Floats) -> Floats:
        """Matrix of the quadratic form: squares of units about their block's weighted mean."""
        weight = np.equal.outer(self.unit_block, self.unit_block) * q1
        away = self.to_units - weight / weight.sum(axis=1, keepdims=True) @ self.to_units
        return (away * q1[:, None]).T @ away

    def within_form(self) -> Floats:
        """Matrix of the quadratic form: weighted squares of wears about their unit's mean."""
        unit = self.to_units.argmax(axis=0)
        away = np.eye(len(self.weight)) - self.to_units[unit]
        return (away * self.weight[:, None]).T @ away
