"""Fit of one channel: posterior draws of every cell's level and of the spreads."""

from dataclasses import dataclass
from typing import Self

import msgspec
import numpy as np
from numpy.typing import NDArray

from pooling.errors import InvalidInput
from pooling.hierarchy.criterion import Criterion
from pooling.hierarchy.integration import Nodes, integrate
from pooling.hierarchy.pool import ChannelPool, Where, channel_pool
from pooling.hierarchy.rules import COMPARED, FAMILY_OF, LIMITS, FitRules
from pooling.sealing import SealedRecords

Floats = NDArray[np.float64]

_FORMAT = 2
_CHUNK = 128


class _Stored(msgspec.Struct, frozen=True):
    """What a ChannelFit looks like at rest: shapes and little-endian doubles."""

    format: int
    channel: str
    cells: tuple[Where, ...]
    components: tuple[tuple[int, ...], ...]
    names: tuple[str, ...]
    method: str
    effective: float
    n_evaluated: int
    squares: tuple[tuple[str, float, float], ...]
    shapes: tuple[tuple[int, ...], ...]
    arrays: tuple[bytes, ...]


@dataclass(frozen=True)
class ChannelFit:
    """Posterior draws of one channel.

    levels (draws x cells) are what a new wearer can expect there, whoever chose the cell; levels_within the same when
    between tied cells wearers' own differences are believed before cell means (equal to levels where nothing is tied);
    levels_as_worn go with levels_within and are those among the people who did choose the cell. sds (draws x names) and
    chosen_variance (draws: variance between cells of who chose them) are in the channel's units.
    """

    channel: str
    cells: tuple[Where, ...]
    components: tuple[tuple[int, ...], ...]
    names: tuple[str, ...]
    method: str
    effective: float
    n_evaluated: int
    squares: tuple[tuple[str, float, float], ...]
    """Per sum of squares: name, observed over expected at the draws' median, degrees of freedom."""
    levels: Floats
    levels_within: Floats
    levels_as_worn: Floats
    sds: Floats
    chosen_variance: Floats

    def sd(self, name: str) -> Floats:
        """Draws of one sd; zeros where the model has no such block."""
        return self.sds[:, self.names.index(name)] if name in self.names else np.zeros(len(self.sds))

    @property
    def people_variance(self) -> Floats:
        """Variance between people at one cell, that of who chose it included."""
        return self.sd("person") ** 2 + self.sd("person_cell") ** 2 + self.chosen_variance

    def to_bytes(self) -> bytes:
        """Same fit, same bytes."""
        arrays = (self.levels, self.levels_within, self.levels_as_worn, self.sds, self.chosen_variance)
        stored = _Stored(
            _FORMAT,
            self.channel,
            self.cells,
            self.components,
            self.names,
            self.method,
            self.effective,
            self.n_evaluated,
            self.squares,
            tuple(array.shape for array in arrays),
            tuple(np.ascontiguousarray(array, dtype="<f8").tobytes() for array in arrays),
        )
        return msgspec.msgpack.encode(stored)

    @classmethod
    def from_bytes(cls, raw: bytes) -> Self:
        """Inverse of to_bytes.

        Raises
        ------
        InvalidInput
            The bytes are no stored channel fit of this format.
        """
        try:
            stored = msgspec.msgpack.decode(raw, type=_Stored)
        except msgspec.DecodeError as error:
            raise InvalidInput("these bytes are no stored channel fit") from error
        if stored.format != _FORMAT:
            raise InvalidInput(f"stored channel fit of format {stored.format}; known is {_FORMAT}")
        arrays = [
            np.frombuffer(data, dtype="<f8").reshape(shape)
            for data, shape in zip(stored.arrays, stored.shapes, strict=True)
        ]
        return cls(
            stored.channel,
            stored.cells,
            stored.components,
            stored.names,
            stored.method,
            stored.effective,
            stored.n_evaluated,
            stored.squares,
            *arrays,
        )


def fit_channel(sealed_records: SealedRecords, channel: str, rules: FitRules, rng: np.random.Generator) -> ChannelFit:
    """Fit one channel of sealed records.

    Parameters
    ----------
    sealed_records : SealedRecords
        All records that the fit may read; the order and how they are split do not matter.
    channel : str
        A channel of any family: one of FAMILY_OF.
    rules : FitRules
    rng : numpy.random.Generator
        Same state, same records: same bytes.

    Returns
    -------
    ChannelFit

    Raises
    ------
    InvalidInput
        There is no such channel.
    TooFewPeople
        No block holds the channel.
    NoConvergence
        The spreads could not be integrated to the demanded effective number.
    """
    if channel not in FAMILY_OF:
        raise InvalidInput(f"there is no channel {channel!r}; there are {', '.join(FAMILY_OF)}")
    pool = channel_pool(sealed_records, channel, rules.versions)
    scale = rules.prior_scales[channel]
    criterion = Criterion.of(pool, scale=scale, who_chose=rules.who_chose)
    nodes = integrate(criterion, rules, rng)
    levels, chosen = _draw_levels(criterion, nodes, rng)
    share = pool.counts.people_share
    within, worn = levels, _as_worn(levels, chosen, share)
    if pool.components and channel in COMPARED:
        within, worn = _within(pool, rules, scale, levels, rng)
    variance = _weighted_variance(chosen, share)
    low, high = LIMITS.get(channel, (-np.inf, np.inf))
    return ChannelFit(
        channel=channel,
        cells=pool.counts.cells,
        components=pool.components,
        names=criterion.names,
        method=nodes.method,
        effective=nodes.effective,
        n_evaluated=nodes.n_evaluated,
        squares=_square_ratios(criterion, nodes),
        levels=np.clip(levels * pool.scale, low, high),
        levels_within=np.clip(within * pool.scale, low, high),
        levels_as_worn=np.clip(worn * pool.scale, low, high),
        sds=np.exp(nodes.draws) * pool.scale,
        chosen_variance=variance * pool.scale**2,
    )


def _draw_levels(
    criterion: Criterion, nodes: Nodes, rng: np.random.Generator, *, held: float = 0.0
) -> tuple[Floats, Floats]:
    """Draw levels of all cells, and the effects of who chose them, given the sds of each draw."""
    parts = [
        _draw_chunk(criterion, nodes.draws[start : start + _CHUNK], rng, held)
        for start in range(0, len(nodes.draws), _CHUNK)
    ]
    return np.concatenate([levels for levels, _ in parts]), np.concatenate([chosen for _, chosen in parts])


def _draw_chunk(criterion: Criterion, log_sds: Floats, rng: np.random.Generator, held: float) -> tuple[Floats, Floats]:
    """Draw effects and data from the model, then correct the effects by what the drawn data lack of the real ones.

    For jointly normal quantities that is an exact draw given the data (Journel and Huijbregts 1978, Mining
    Geostatistics, chapter 7: conditioning by kriging; cited from memory), and it needs no covariance of the effects.
    """
    pool = criterion.pool
    n_draws, n_cells = len(log_sds), pool.n_cells
    variances = dict(zip(criterion.names, np.exp(2 * log_sds).T, strict=True))
    who_chose = variances.get("who_chose", np.full(n_draws, held))[:, None]

    effects = np.zeros((n_draws, n_cells))
    for name, design in pool.designs.items():
        drawn = rng.standard_normal((n_draws, design.shape[1])) @ design.T
        effects += np.sqrt(variances[name])[:, None] * drawn
    chosen = np.sqrt(who_chose) * rng.standard_normal((n_draws, n_cells))
    noise = pool.fixed + sum(variances[name][:, None, None] * pattern for name, pattern in pool.errors.items())
    errors = (np.linalg.cholesky(noise) @ rng.standard_normal((n_draws, len(pool.y), 1)))[:, :, 0]
    drawn_data = effects @ pool.to_rows.T + errors
    drawn_data[:, :n_cells] += chosen

    lacking = pool.y - drawn_data
    covariance = criterion.covariance(log_sds)
    right = np.stack([lacking, np.broadcast_to(pool.level, lacking.shape)], axis=2)
    solved = np.linalg.solve(covariance, right)
    mean = (solved[:, :, 0] @ pool.level) / (solved[:, :, 1] @ pool.level)
    residual = solved[:, :, 0] - mean[:, None] * solved[:, :, 1]
    pulled = residual @ pool.to_rows
    for name, pattern in pool.effects.items():
        effects += variances[name][:, None] * (pulled @ pattern)
    chosen += who_chose * residual[:, :n_cells]
    return mean[:, None] + effects + (chosen @ pool.counts.people_share)[:, None], chosen


def _within(
    pool: ChannelPool, rules: FitRules, scale: float, levels: Floats, rng: np.random.Generator
) -> tuple[Floats, Floats]:
    """Fit once more with the sd of "who chose" held, so that ties weigh more than cell means; also as worn."""
    criterion = Criterion.of(pool, scale=scale, who_chose=0.0, hold_who_chose=rules.who_chose_within)
    held = (rules.who_chose_within * scale) ** 2
    within, chosen = _draw_levels(criterion, integrate(criterion, rules, rng), rng, held=held)
    share = pool.counts.people_share
    moved = _recentred(within, levels, pool)
    return moved, _as_worn(moved, chosen, share)


def _as_worn(levels: Floats, chosen: Floats, share: Floats) -> Floats:
    """What is expected of the people who did choose each cell; the people-weighted mean is the same."""
    return levels + chosen - (chosen @ share)[:, None]


def _recentred(within: Floats, levels: Floats, pool: ChannelPool) -> Floats:
    """Differences inside each tie component from the within fit, its people-weighted mean from the other."""
    share = pool.counts.people_share
    moved = levels.copy()
    for component in map(list, pool.components):
        weights = share[component] / share[component].sum()
        moved[:, component] = within[:, component] + ((levels[:, component] - within[:, component]) @ weights)[:, None]
    return moved


def _weighted_variance(values: Floats, weights: Floats) -> Floats:
    mean = values @ weights
    return (values**2) @ weights - mean**2


def _square_ratios(criterion: Criterion, nodes: Nodes) -> tuple[tuple[str, float, float], ...]:
    expected = criterion.expected_squares(np.median(nodes.draws, axis=0)[None])[0]
    return tuple(
        (term.name, float(term.value / expectation) if expectation > 0 else 0.0, term.freedom)
        for term, expectation in zip(criterion.pool.squares, expected, strict=True)
    )
