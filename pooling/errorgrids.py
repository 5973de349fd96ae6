"""Two grids that sort pairs by what acting on the sensor reading could have led to: consensus (1 and 2) and Clarke."""

from collections.abc import Callable
from functools import cache
from itertools import pairwise
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pooling.accuracy import TOLERANCE, Floats, checked_pairs
from pooling.errors import InvalidInput

ZONES = ("A", "B", "C", "D", "E")
_LETTERS = np.array(ZONES)
_PART = 32_768

Line = tuple[tuple[float, float], ...]
Places = NDArray[np.int8]  # in ZONES


class _Edge(NamedTuple):
    """The border into one zone: its line above the diagonal, and the one below if there is one."""

    zone: str
    upper: Line
    lower: Line | None


# Vertices (reference, sensor) in mg/dL: Pfützner et al., J Diabetes Sci Technol 2013;7(5):1275-1281, for the grids of
# Parkes et al., Diabetes Care 2000;23:1143-1148, which printed no coordinates. There is no lower zone E. A lower line
# rises vertically from the axis at its first reference value, so it counts only beyond that value.
_CONSENSUS = {
    1: (
        _Edge(
            "B",
            ((0, 50), (30, 50), (140, 170), (280, 380), (430, 550)),
            ((50, 30), (170, 145), (385, 300), (550, 450)),
        ),
        _Edge("C", ((0, 60), (30, 60), (50, 80), (70, 110), (260, 550)), ((120, 30), (260, 130), (550, 250))),
        _Edge("D", ((0, 100), (25, 100), (50, 125), (80, 215), (125, 550)), ((250, 40), (550, 150))),
        _Edge("E", ((0, 150), (35, 155), (50, 550)), None),
    ),
    2: (
        _Edge("B", ((0, 50), (30, 50), (230, 330), (440, 550)), ((50, 30), (90, 80), (330, 230), (550, 450))),
        _Edge("C", ((0, 60), (30, 60), (280, 550)), ((90, 0), (260, 130), (550, 250))),
        _Edge("D", ((0, 80), (25, 80), (35, 90), (125, 550)), ((250, 40), (410, 110), (550, 160))),
        _Edge("E", ((0, 200), (35, 200), (50, 550)), None),
    ),
}


def consensus_zones(reference_mg_dl: ArrayLike, sensor_mg_dl: ArrayLike, *, diabetes_type: int = 1) -> NDArray[np.str_]:
    """Zone of the consensus grid for each pair.

    Assumptions: a point on a line takes the milder zone (tolerance 1e-9 mg/dL); beyond 550 mg/dL each line runs on with
    its last slope.

    Parameters
    ----------
    reference_mg_dl, sensor_mg_dl : array_like, shape (n_pairs,), mg/dL
    diabetes_type : {1, 2}

    Returns
    -------
    ndarray of str, shape (n_pairs,)
        "A" to "E".

    Raises
    ------
    InvalidInput
        As `pooling.accuracy.checked_pairs`, or if `diabetes_type` is neither 1 nor 2.

    Notes
    -----
    Straight from the published vertices rather than from polygons: zones are nested, so each border only has to say
    who lies beyond it, and is asked only about the pairs beyond the one before.

    References
    ----------
    Pfützner A, Klonoff DC, Pardo S, Parkes JL. J Diabetes Sci Technol 2013;7(5):1275-1281.

    Examples
    --------
    >>> consensus_zones([100, 55, 40], [100, 90, 287]).tolist()
    ['A', 'C', 'E']
    """
    return _LETTERS[_consensus_places(reference_mg_dl, sensor_mg_dl, diabetes_type)]


def consensus_counts(
    reference_mg_dl: ArrayLike, sensor_mg_dl: ArrayLike, *, diabetes_type: int = 1
) -> tuple[int, int, int, int, int]:
    """How many pairs lie in each zone of the consensus grid, A to E; inputs and errors as `consensus_zones`.

    Examples
    --------
    >>> consensus_counts([100, 55, 40], [100, 90, 287])
    (1, 0, 1, 0, 1)
    """
    places = _consensus_places(reference_mg_dl, sensor_mg_dl, diabetes_type)
    a, b, c, d, e = np.bincount(places, minlength=len(ZONES)).tolist()
    return (a, b, c, d, e)


def _consensus_places(reference_mg_dl: ArrayLike, sensor_mg_dl: ArrayLike, diabetes_type: int) -> Places:
    reference, sensor = checked_pairs(reference_mg_dl, sensor_mg_dl)
    edges = _edges(diabetes_type)

    def sort(r: Floats, s: Floats, places: Places) -> None:
        at = np.arange(r.size)
        for edge in edges:
            at = at[_beyond(edge, r[at], s[at])]
            if not at.size:
                return
            places[at] = ZONES.index(edge.zone)

    return _sorted(reference, sensor, sort)


def consensus_borders(diabetes_type: int = 1) -> tuple[tuple[str, Line], ...]:
    """The lines of the consensus grid for drawing: the zone each opens, and its corners (reference, sensor) in mg/dL.

    Lower lines start on the axis, as they are printed.

    Raises
    ------
    InvalidInput
        If `diabetes_type` is neither 1 nor 2.

    Examples
    --------
    >>> dict(consensus_borders())["E"]
    ((0, 150), (35, 155), (50, 550))
    """
    edges = _edges(diabetes_type)
    lower = [(edge.zone, ((edge.lower[0][0], 0.0), *edge.lower)) for edge in edges if edge.lower is not None]
    return (*((edge.zone, edge.upper) for edge in edges), *lower)


def _edges(diabetes_type: int) -> tuple[_Edge, ...]:
    if diabetes_type not in _CONSENSUS:
        raise InvalidInput("diabetes_type must be 1 or 2")
    return _CONSENSUS[diabetes_type]


def _beyond(edge: _Edge, reference: Floats, sensor: Floats) -> NDArray[np.bool_]:
    beyond = sensor > _height(edge.upper, reference) + TOLERANCE
    if edge.lower is not None:
        right_of_start = reference > edge.lower[0][0] + TOLERANCE
        beyond |= right_of_start & (sensor < _height(edge.lower, reference) - TOLERANCE)
    return beyond


def _height(line: Line, reference: Floats) -> Floats:
    """Height of a polyline at each reference value: one bend added after the other; the last segment goes on for ever.

    Left of the first vertex it is level.
    """
    height = np.full(reference.shape, float(line[0][1]))
    for start, bend in _bends(line):
        further = np.maximum(reference, start)
        further -= start
        further *= bend
        height += further
    return height


@cache
def _bends(line: Line) -> tuple[tuple[float, float], ...]:
    """Where a polyline changes its slope, and by how much."""
    slopes = [0.0, *((y1 - y0) / (x1 - x0) for (x0, y0), (x1, y1) in pairwise(line))]
    return tuple(
        (x, after - before) for (x, _), (before, after) in zip(line, pairwise(slopes), strict=False) if after != before
    )


def _sorted(reference: Floats, sensor: Floats, sort: Callable[[Floats, Floats, Places], None]) -> Places:
    """Zones of all pairs, a part at a time that fits the processor's cache; `sort` finds them all in zone A."""
    places = np.zeros(reference.shape, dtype=np.int8)
    for start in range(0, reference.size, _PART):
        part = slice(start, start + _PART)
        sort(reference[part], sensor[part], places[part])
    return places


def clarke_zones(reference_mg_dl: ArrayLike, sensor_mg_dl: ArrayLike) -> NDArray[np.str_]:
    """Zone of the Clarke grid for each pair.

    Assumptions: the grid was published as a figure with prose, and programs differ on its lines. Here the first match
    of A, E, C, D, B counts, lines belong to the zone they bound, and the upper zone C has no right end.

    Parameters
    ----------
    reference_mg_dl, sensor_mg_dl : array_like, shape (n_pairs,), mg/dL

    Returns
    -------
    ndarray of str, shape (n_pairs,)
        "A" to "E".

    Raises
    ------
    InvalidInput
        As `pooling.accuracy.checked_pairs`.

    References
    ----------
    Clarke WL, Cox D, Gonder-Frederick LA, Carter W, Pohl SL. Diabetes Care 1987;10:622-628.

    Examples
    --------
    >>> clarke_zones([100, 100, 69, 241], [120, 121, 40, 100]).tolist()
    ['A', 'B', 'A', 'D']
    """
    reference, sensor = checked_pairs(reference_mg_dl, sensor_mg_dl)
    return _LETTERS[_sorted(reference, sensor, _sort_by_clarke)]


def _sort_by_clarke(r: Floats, s: Floats, places: Places) -> None:
    in_a = (np.abs(s - r) <= 0.2 * r + TOLERANCE) | ((r < 70) & (s < 70))
    at = np.flatnonzero(~in_a)
    r, s = r[at], s[at]
    rules = {
        "E": ((r <= 70) & (s >= 180)) | ((r >= 180) & (s <= 70)),
        "C": ((r >= 70) & (s >= r + 110 - TOLERANCE)) | ((r >= 130) & (r <= 180) & (s <= 1.4 * r - 182 + TOLERANCE)),
        "D": ((r >= 240) | (r <= 70)) & (s >= 70) & (s <= 180),
    }
    places[at] = np.select(list(rules.values()), [ZONES.index(zone) for zone in rules], ZONES.index("B"))
