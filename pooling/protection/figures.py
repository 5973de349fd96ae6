"""How a single figure is rounded, and when it is withheld."""

import math
from dataclasses import InitVar, dataclass
from decimal import ROUND_CEILING, ROUND_FLOOR, ROUND_HALF_EVEN, Decimal
from typing import Final, Literal, Protocol

from pooling.errors import InvalidInput, TooFewPeople

PROTECTION_VERSION = 1
FLOOR_PEOPLE = 5
FULL_ROW_PEOPLE = 30

Bound = Literal["at_least", "at_most"]

_MAKER: Final = object()
_SMALL_BAND_EDGES = (FLOOR_PEOPLE, 10, 20, FULL_ROW_PEOPLE, 50)
_BAND_DIGITS = (1, 2, 5)
_LADDER_MANTISSAS = (Decimal(1), Decimal(2), Decimal(5), Decimal(10))
_NOISE = Decimal("1e-9")
_COUNT_BASE = 5


class Estimate(Protocol):
    """A figure as the model computed it: the median and the ends of its 95 % interval."""

    @property
    def median(self) -> float: ...
    @property
    def lower(self) -> float: ...
    @property
    def upper(self) -> float: ...


@dataclass(frozen=True, slots=True)
class Published:
    """A figure that may be read by anybody. `bound` says that the truth lies at or beyond `value` on that side."""

    value: Decimal | None = None
    lower: Decimal | None = None
    upper: Decimal | None = None
    bound: Bound | None = None
    made_by: InitVar[object] = None

    def __post_init__(self, made_by: object) -> None:
        if made_by is not _MAKER:
            raise TypeError("only pooling.protection makes published figures")


class Withheld:
    """Nothing to show. It carries no reason and no number, so a hidden, an empty and a foreign cell look alike."""

    __slots__ = ()
    _only: "Withheld | None" = None

    def __new__(cls) -> "Withheld":
        if cls._only is None:
            cls._only = super().__new__(cls)
        return cls._only

    def __repr__(self) -> str:
        return "WITHHELD"


WITHHELD: Final = Withheld()


@dataclass(frozen=True, slots=True)
class Band:
    """How many people stand behind a figure: `at_least` of them and fewer than `below` (None: no upper end told)."""

    at_least: int
    below: int | None


@dataclass(frozen=True, slots=True)
class Scale:
    """How one kind of figure is rounded.

    `reach` divided by the people is how far one person can plausibly move the figure; `lowest` and `highest` are the
    ends that no rounding may cross.
    """

    reach: Decimal
    lowest: Decimal | None = None
    highest: Decimal | None = None


# Reaches keep the proportions of the spreads between people, with 5 points for MARD as the measure of the others.
MARD_PCT = Scale(Decimal(5), lowest=Decimal(0))
BIAS_PCT = Scale(Decimal("12.5"))
SHARE_PCT = Scale(Decimal(20), lowest=Decimal(0), highest=Decimal(100))
DIFFERENCE_POINTS = Scale(Decimal(5))
LOCATION_LOG = Scale(Decimal("0.125"))
LOG_VARIANCE = Scale(Decimal(1))
RATING_POINTS = Scale(Decimal("2.5"), lowest=Decimal(0), highest=Decimal(10))
FAR_PER_1000 = Scale(Decimal(8), lowest=Decimal(0), highest=Decimal(1000))
GLUCOSE_MG_DL = Scale(Decimal(10), lowest=Decimal(0))
READING_SD_LOG = Scale(Decimal("0.06"), lowest=Decimal(0))


def band_people(n_people: int) -> Band:
    """The band of 5, 10, 20, 30, 50, 100, 200, 500, ... that holds a number of people.

    The edge at 30 is where a row gets all its figures; otherwise the edges are 1, 2 and 5 times powers of ten.

    Parameters
    ----------
    n_people
        Distinct people, at least 5.

    Raises
    ------
    TooFewPeople
        Below 5 people, for which no band may be told.

    Examples
    --------
    >>> band_people(27), band_people(1200)
    (Band(at_least=20, below=30), Band(at_least=1000, below=2000))
    """
    if n_people < FLOOR_PEOPLE:
        raise TooFewPeople(f"a band of people starts at {FLOOR_PEOPLE}")
    larger = (digit * 10**power for power in range(2, len(str(n_people)) + 1) for digit in _BAND_DIGITS)
    edges = (*_SMALL_BAND_EDGES, *larger)
    return Band(max(edge for edge in edges if edge <= n_people), min(edge for edge in edges if edge > n_people))


def step_of(scale: Scale, band: Band) -> Decimal:
    """The rounding step of a kind of figure for a band of people: the ladder's first at or above reach / people.

    The ladder is 1, 2, 5 times powers of ten, and 0.25: without it cells of 20 to 29 people, for which reach / people
    is exactly 0.25, would pay twice what the rule asks.

    Examples
    --------
    >>> [str(step_of(MARD_PCT, band_people(n))) for n in (5, 10, 20, 30, 50, 100)]
    ['1', '0.5', '0.25', '0.2', '0.1', '0.05']
    """
    asked = scale.reach / band.at_least
    decade = Decimal(10) ** math.floor(asked.log10())
    rungs = [mantissa * decade for mantissa in _LADDER_MANTISSAS] + [Decimal("0.25")]
    return min(rung for rung in rungs if rung >= asked).normalize()


def publish_estimate(
    estimate: Estimate, *, n_people: int, k: int, scale: Scale = MARD_PCT, step: Decimal | None = None
) -> Published | Withheld:
    """Round an estimate: the value to the nearest step, the ends of its interval outward.

    Parameters
    ----------
    estimate
        Median and 95 % ends, finite, in order, in the unit of `scale`.
    n_people, k
        Distinct people behind it, and the fewest that a figure may show.
    scale
        The kind of figure.
    step
        A coarser step than the scale's own, such as the larger of two cells'.

    Returns
    -------
    Published | Withheld
        Withheld below k people.

    Raises
    ------
    InvalidInput
        If a number is not finite, the three are out of order, k is under the floor, or `step` is finer than the rule.

    Notes
    -----
    Ends rounded outward turn a 95 % interval into one that holds 97 to 98 % among 10 to 30 people; rounded to the
    nearest step they would hold 93 %. An interval may promise too little, never too much.
    """
    if not estimate.lower <= estimate.median <= estimate.upper:
        raise InvalidInput("an estimate's median must lie within its interval")
    if n_people < _checked_k(k):
        return WITHHELD
    least = step_of(scale, band_people(n_people))
    if step is not None and step < least:
        raise InvalidInput("a figure may be rounded more coarsely than its band asks, never more finely")
    return _rounded(estimate, scale, step or least)


def publish_difference(
    estimate: Estimate, *, n_people: tuple[int, int], k: int, scale: Scale = DIFFERENCE_POINTS
) -> Published | Withheld:
    """Round a difference between two cells, with the larger of the two cells' steps."""
    return publish_estimate(estimate, n_people=min(n_people), k=k, scale=scale)


def publish_value(number: float, *, n_people: int, k: int, scale: Scale) -> Published | Withheld:
    """Round a single number to the nearest step, without an interval."""
    if n_people < _checked_k(k):
        return WITHHELD
    step = step_of(scale, band_people(n_people))
    return Published(value=_within(scale, _to_step(number, step, ROUND_HALF_EVEN)), made_by=_MAKER)


def publish_range(
    lower: float, upper: float, *, n_people: int, k: int, scale: Scale, step: Decimal | None = None
) -> Published | Withheld:
    """Round the two ends of a range outward; `step` replaces the scale's own where the unit asks for another."""
    if lower > upper:
        raise InvalidInput("a range's lower end must not lie above its upper end")
    if n_people < _checked_k(k):
        return WITHHELD
    step = step or step_of(scale, band_people(n_people))
    ends = _to_step(lower, step, ROUND_FLOOR), _to_step(upper, step, ROUND_CEILING)
    return Published(lower=_within(scale, ends[0]), upper=_within(scale, ends[1]), made_by=_MAKER)


def few_of(band: Band, k: int) -> Decimal:
    """The share, in per cent, that fewer than k of a band of people stay under; it depends on nothing else."""
    return _to_step(100 * k / band.at_least, step_of(SHARE_PCT, band), ROUND_CEILING)


def bounded(value: Decimal, bound: Bound) -> Published:
    """A bound made of numbers that are public anyway."""
    return Published(value=value, bound=bound, made_by=_MAKER)


def publish_highest(upper: float, *, n_people: int, k: int, scale: Scale) -> Published | Withheld:
    """Only the upper end of an interval, rounded outward: "at most".

    Examples
    --------
    >>> publish_highest(3.21, n_people=120, k=5, scale=FAR_PER_1000).value
    Decimal('3.3')
    """
    if n_people < _checked_k(k):
        return WITHHELD
    step = step_of(scale, band_people(n_people))
    return bounded(_within(scale, _to_step(upper, step, ROUND_CEILING)), "at_most")


def publish_probability(frac: float, *, n_people: int, k: int) -> Published | Withheld:
    """A probability of the model to a tenth, or to a twentieth from 30 people; near 0 and 1 only a bound.

    Raises
    ------
    InvalidInput
        If `frac` lies outside 0 to 1 or k is under the floor.
    """
    if not 0 <= frac <= 1:
        raise InvalidInput("a probability lies between 0 and 1")
    if n_people < _checked_k(k):
        return WITHHELD
    step = Decimal("0.05") if n_people >= FULL_ROW_PEOPLE else Decimal("0.1")
    if frac <= step:
        return Published(value=step, bound="at_most", made_by=_MAKER)
    if frac >= 1 - step:
        return Published(value=1 - step, bound="at_least", made_by=_MAKER)
    return Published(value=_to_step(frac, step, ROUND_HALF_EVEN), made_by=_MAKER)


def publish_spread(number: float, *, n_people: int, k: int) -> Published | Withheld:
    """A spread that all cells share, to a half of its leading decimal place, or to a tenth from 100 people.

    Only the number, never an interval: the widths of spreads would tell how many people are behind them.

    Raises
    ------
    InvalidInput
        If the number is not finite or k is under the floor.

    Examples
    --------
    >>> publish_spread(0.0432, n_people=40, k=5).value, publish_spread(0.0432, n_people=400, k=5).value
    (Decimal('0.045'), Decimal('0.043'))
    """
    if n_people < _checked_k(k):
        return WITHHELD
    size = abs(_number(number))
    if size == 0:
        return Published(value=Decimal(0), made_by=_MAKER)
    part = Decimal("0.1") if n_people >= 100 else Decimal("0.5")
    return Published(value=_to_step(number, part.scaleb(size.adjusted()), ROUND_HALF_EVEN), made_by=_MAKER)


def publish_count(n: int) -> Published:
    """A count of wears or pairs to the nearest multiple of 5, for a cell that is shown anyway.

    Raises
    ------
    InvalidInput
        If the count is negative.

    Examples
    --------
    >>> publish_count(37).value
    Decimal('35')
    """
    if n < 0:
        raise InvalidInput("a count is not negative")
    return Published(value=Decimal(_COUNT_BASE * round(n / _COUNT_BASE)), made_by=_MAKER)


def _checked_k(k: int) -> int:
    if k < FLOOR_PEOPLE:
        raise InvalidInput(f"no figure may rest on fewer than {FLOOR_PEOPLE} people")
    return k


def _rounded(estimate: Estimate, scale: Scale, step: Decimal) -> Published:
    return Published(
        value=_within(scale, _to_step(estimate.median, step, ROUND_HALF_EVEN)),
        lower=_within(scale, _to_step(estimate.lower, step, ROUND_FLOOR)),
        upper=_within(scale, _to_step(estimate.upper, step, ROUND_CEILING)),
        made_by=_MAKER,
    )


def _number(number: float) -> Decimal:
    """The decimal that a float prints as, without the last digits in which equal computations differ."""
    if not math.isfinite(number):
        raise InvalidInput("only a finite number can be published")
    return Decimal(repr(float(number))).quantize(_NOISE)


def _to_step(number: float, step: Decimal, rounding: str) -> Decimal:
    multiple = (_number(number) / step).to_integral_value(rounding=rounding)
    # Adding zero turns a negative zero into zero.
    return multiple * step + Decimal(0)


def _within(scale: Scale, number: Decimal) -> Decimal:
    if scale.lowest is not None:
        number = max(number, scale.lowest)
    if scale.highest is not None:
        number = min(number, scale.highest)
    return number
