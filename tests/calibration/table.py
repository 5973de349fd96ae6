"""From scored pools to a table: coverage, errors and ratios with Monte Carlo limits, held against declared bands."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from tests.calibration.pools import Floats
from tests.calibration.scenarios import SCENARIOS

FIGURE, PEOPLE, TRUTH, PLAIN, MEDIAN, LOW, HIGH, LOW80, HIGH80, SHOWN, _, SHOWN80, __, REFEREE, SUMS = range(15)
ENDS = {"95 %": LOW, "80 %": LOW80, "printed 95 %": SHOWN, "printed 80 %": SHOWN80}
Z99 = 2.5758293035489004
"""Half-width of a 99 % interval in standard errors, pools as the unit."""
Band = tuple[float, float]
SURE, INNER, RATES = (0.925, 0.965), (0.76, 0.84), (0.90, 0.97)
PEOPLE_BINS = {"10 to 29": (10, 30), "30 to 99": (30, 100), "100 and more": (100, 10**9)}
PRINTED: dict[str, dict[str, Band]] = {
    "10 to 29": {"printed 95 %": (0.955, 0.99), "printed 80 %": (0.86, 0.93)},
    "30 to 99": {},
    "100 and more": {"printed 95 %": (0.90, 0.97), "printed 80 %": (0.76, 0.87)},
}
MOST_OF_PLAIN = {"site MARD": 0.75, "contrast": 0.63}
MOST_OF_REFEREE = {"sums alone": 1.04, "all": 1.15}


@dataclass(frozen=True)
class Measured:
    """One figure of the table: what, its value, the half-width of its 99 % Monte Carlo interval, and its band."""

    name: str
    value: float
    half_width: float
    band: Band | None = None

    @property
    def verdict(self) -> str:
        """Inside the band; not told apart from it; or outside."""
        if self.band is None:
            return ""
        low, high = self.band
        if low <= self.value <= high:
            return "inside"
        return "meets" if low - self.half_width <= self.value <= high + self.half_width else "OUTSIDE"

    def line(self) -> str:
        """One line."""
        band = "" if self.band is None else f"{self.band[0]:.3g} to {self.band[1]:.3g}"
        return f"  {self.name:<44} {self.value:7.3f} ± {self.half_width:.3f}   {band:<15} {self.verdict}"


def share(values: Sequence[Floats]) -> tuple[float, float]:
    """Mean of values that come pool by pool, and its 99 % half-width with pools as clusters.

    >>> share([np.array([1.0, 1.0]), np.array([0.0, 1.0])])[0]
    0.75
    """
    sums, sizes = np.array([v.sum() for v in values]), np.array([len(v) for v in values])
    mean = sums.sum() / sizes.sum()
    return float(mean), float(Z99 * np.sqrt(((sums - mean * sizes) ** 2).sum()) / sizes.sum())


def ratio(above: Sequence[Floats], below: Sequence[Floats]) -> tuple[float, float]:
    """Ratio of two root mean square errors of the same figures, and its 99 % half-width (linearised, over pools).

    >>> ratio([np.array([1.0])], [np.array([2.0])])[0]
    0.5
    """
    a, b = (np.array([(v**2).sum() for v in part]) for part in (above, below))
    squared = a.sum() / b.sum()
    error = np.sqrt(((a - squared * b) ** 2).sum()) / b.sum()
    return float(np.sqrt(squared)), float(Z99 * error / (2 * np.sqrt(squared)))


def table(pools: Sequence[dict[str, Any]]) -> Iterator[Measured]:
    """Everything measured in pools of one scenario."""
    for figure, bands in (
        ("site MARD", {"95 %": SURE, "80 %": INNER}),
        ("contrast", {"95 %": SURE, "80 %": INNER}),
        ("extreme contrast", {"95 %": (0.92, 1.0)}),
        ("15/15", {"95 %": RATES}),
        ("20/20", {"95 %": RATES}),
        ("in truth", {"95 %": None}),
    ):
        if figure == "extreme contrast" and not SCENARIOS[pools[0]["scenario"]].confounding:
            continue  # the sites at its ends are extreme only where people choose by accuracy
        for level, band in bands.items():
            yield from _covered(pools, figure, level, band)
        yield from _bias(pools, figure)
    for name, people in PEOPLE_BINS.items():
        for level in ("printed 95 %", "printed 80 %"):
            for figure in ("site MARD", "contrast"):
                found = _covered(pools, figure, level, PRINTED[name].get(level), people)
                yield from (Measured(f"{m.name}, {name} people", m.value, m.half_width, m.band) for m in found)
    for end in ("people above low end", "people below high end"):
        values = _by_pool(pools, end, lambda rows: rows[:, TRUTH - 1])
        if values:
            yield Measured(f"share of {end}", *share(values), (0.88, 0.97))
    for figure, most in MOST_OF_PLAIN.items():
        yield from _errors(pools, figure, most)


def _by_pool(
    pools: Sequence[dict[str, Any]],
    figure: str,
    measure: Callable[[Floats], Floats],
    people: tuple[int, int] = (0, 10**9),
) -> list[Floats]:
    """A measure of the rows of one figure, pool by pool; rows lack their name, so columns move one to the left."""
    found = []
    for pool in pools:
        rows = [row[1:] for row in pool["rows"] if row[0] == figure and people[0] <= row[1] < people[1]]
        if rows:
            found.append(measure(np.array(rows, dtype=np.float64)))
    return found


def _covered(
    pools: Sequence[dict[str, Any]], figure: str, level: str, band: Band | None, people: tuple[int, int] = (0, 10**9)
) -> Iterator[Measured]:
    at, truth = ENDS[level] - 1, TRUTH - 1
    hits = _by_pool(
        pools,
        figure,
        lambda rows: ((rows[:, at] <= rows[:, truth]) & (rows[:, truth] <= rows[:, at + 1])).astype(np.float64),
        people,
    )
    if hits:
        yield Measured(f"{figure}, {level}", *share(hits), band)


def _bias(pools: Sequence[dict[str, Any]], figure: str) -> Iterator[Measured]:
    errors = _by_pool(pools, figure, lambda rows: rows[:, MEDIAN - 1] - rows[:, TRUTH - 1])
    if errors:
        yield Measured(f"{figure}, bias in points", *share(errors))


def _errors(pools: Sequence[dict[str, Any]], figure: str, most_of_plain: float) -> Iterator[Measured]:
    def errors(column: int) -> list[Floats]:
        return _by_pool(pools, figure, lambda rows: rows[:, column - 1] - rows[:, TRUTH - 1])

    own, plain = errors(MEDIAN), errors(PLAIN)
    if not own:
        return
    everything = np.concatenate(own)
    yield Measured(f"{figure}, RMSE in points", float(np.sqrt((everything**2).mean())), 0.0)
    yield Measured(f"{figure}, RMSE of plain means' RMSE", *ratio(own, plain), (0.0, most_of_plain))
    referee, sums = errors(REFEREE), errors(SUMS)
    for name, errors_of in (("sums alone", sums), ("all", own)):
        pairs = [_both(a, b, c) for a, b, c in zip(errors_of, referee, sums, strict=True)]
        kept = [(a, b) for a, b in pairs if len(a)]
        if kept:
            measured = ratio([a for a, _ in kept], [b for _, b in kept])
            yield Measured(f"{figure}, RMSE of the referee's, {name}", *measured, (0.0, MOST_OF_REFEREE[name]))


def _both(own: Floats, referee: Floats, sums: Floats) -> tuple[Floats, Floats]:
    """Errors where all fits have an answer."""
    kept = np.isfinite(referee) & np.isfinite(sums)
    return own[kept], referee[kept]


COLUMNS = (
    {
        "sites 95 %": "site MARD, 95 %",
        "80 %": "site MARD, 80 %",
        "contrasts 95 %": "contrast, 95 %",
        " 80 %": "contrast, 80 %",
        "extreme 95 %": "extreme contrast, 95 %",
        "15/15": "15/15, 95 %",
        "20/20": "20/20, 95 %",
        "above low end": "share of people above low end",
        "below high end": "share of people below high end",
    },
    {
        f"{start}{level[8:]}{end}": f"{figure}, {level}, {people} people"
        for people, end in (("10 to 29", ""), ("100 and more", ", 100+"))
        for figure, start in (("site MARD", "sites "), ("contrast", "contrasts "))
        for level in ("printed 95 %", "printed 80 %")
    },
    {
        f"{start}: {name}": f"{figure}, {measure}"
        for figure, start in (("site MARD", "sites"), ("contrast", "contrasts"))
        for name, measure in (
            ("RMSE", "RMSE in points"),
            ("of plain", "RMSE of plain means' RMSE"),
            ("sums alone", "RMSE of the referee's, sums alone"),
            ("all", "RMSE of the referee's, all"),
        )
    },
)
"""Three tables of docs/METHODS.md: what columns are called there and here."""


def markdown(worlds: Mapping[str, Sequence[dict[str, Any]]]) -> str:
    """Tables as Markdown, a row a world; a figure outside its band is bold, one that only meets it has a ~."""
    found = {
        f"{name}, {len(pools)}": {measured.name: measured for measured in table(pools)}
        for name, pools in worlds.items()
    }
    tables = []
    for columns in COLUMNS:
        lines = [("world, pools", *columns), ("---",) * (len(columns) + 1)]
        lines += [(name, *(_cell(own.get(column)) for column in columns.values())) for name, own in found.items()]
        tables.append("\n".join(f"| {' | '.join(line)} |" for line in lines))
    return "\n\n".join(tables) + "\n"


def _cell(measured: Measured | None) -> str:
    if measured is None:
        return "–"
    text = f"{measured.value:.3f}"
    text = text[1:] if text.startswith("0.") else text
    return {"OUTSIDE": f"**{text}**", "meets": f"~{text}"}.get(measured.verdict, text)
