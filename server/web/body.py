"""The drawing of a body, front and back: points set by hand, curves drawn through them.

Points are in the units of the drawing, x to the right from the middle of the figure and y down from above its head.
What lies on both sides is written once, for the side at the right of the page, and mirrored.
"""

from collections.abc import Sequence
from dataclasses import dataclass

Point = tuple[float, float]

WIDTH, HEIGHT = 220, 400

# Half a figure, from the crown down the outside, around the hand and the foot, and up the inside to the crotch.
_HALF: tuple[Point, ...] = (
    (0, 6), (13, 12), (17, 29), (13, 45), (8, 53), (9, 62), (22, 69), (39, 75), (49, 88), (54, 111), (60, 138),
    (67, 164), (74, 189), (80, 203), (81, 217), (75, 221), (69, 208), (64, 193), (54, 168), (46, 143), (41, 118),
    (36, 99), (33, 122), (31, 145), (33, 166), (37, 188), (38, 214), (35, 248), (30, 278), (32, 302), (28, 332),
    (23, 360), (26, 374), (27, 383), (15, 386), (10, 377), (12, 360), (9, 332), (9, 304), (10, 280), (7, 250),
    (4, 224), (0, 211),
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Patch:
    """The part of one view that is a site: its shapes, and where a line leads from its number to it."""

    site: str
    number: int
    shapes: tuple[str, ...]
    boxes: tuple[tuple[float, float, float, float], ...]
    number_at: Point
    line_ends_at: Point


@dataclass(frozen=True, slots=True)
class View:
    """A figure seen from one side."""

    name: str
    outline: str
    patches: tuple[Patch, ...]


def curve(points: Sequence[Point]) -> str:
    """A closed path through all points: each piece a cubic whose ends point along the neighbours of its ends."""
    n = len(points)
    path = [f"M{_at(points[0])}"]
    for i in range(n):
        before, start, end, after = (points[(i + step) % n] for step in (-1, 0, 1, 2))
        path.append(f"C{_at(_towards(start, before, end))} {_at(_towards(end, after, start))} {_at(end)}")
    return "".join(path) + "Z"


def _towards(point: Point, one: Point, other: Point) -> Point:
    """A sixth of the way that leads past the point from one neighbour to the other."""
    return point[0] + (other[0] - one[0]) / 6, point[1] + (other[1] - one[1]) / 6


def _at(point: Point) -> str:
    return f"{point[0]:.1f},{point[1]:.1f}"


def mirrored(points: Sequence[Point]) -> tuple[Point, ...]:
    """The same on the other side, walked the other way round."""
    return tuple((-x, y) for x, y in reversed(points))


def _patch(site: str, number: int, half: Sequence[Point], line: tuple[Point, Point], *, middle: bool = False) -> Patch:
    """A site on both sides; or across the middle, where `half` begins and ends in the middle."""
    sides = [(*half, *mirrored(half[1:-1]))] if middle else [half, mirrored(half)]
    number_at, ends_at = line
    return Patch(site, number, tuple(map(curve, sides)), tuple(map(_box, sides)), number_at, ends_at)


def _box(points: Sequence[Point]) -> tuple[float, float, float, float]:
    xs, ys = [x for x, _ in points], [y for _, y in points]
    return min(xs), min(ys), max(xs) - min(xs), max(ys) - min(ys)


_OUTLINE = curve((*_HALF, *mirrored(_HALF[1:-1])))

FRONT = View(
    "front",
    _OUTLINE,
    (
        _patch(
            "chest",
            1,
            [(0, 84), (18, 82), (33, 86), (35, 100), (28, 114), (0, 117)],
            ((-64, 54), (-22, 94)),
            middle=True,
        ),
        _patch(
            "upper_arm.outer",
            2,
            [(40, 76), (52, 82), (60, 112), (64, 136), (55, 138), (49, 112), (43, 92)],
            ((92, 92), (53, 104)),
        ),
        _patch(
            "abdomen.front",
            3,
            [(0, 128), (14, 130), (18, 150), (15, 172), (0, 176)],
            ((-92, 134), (-10, 148)),
            middle=True,
        ),
        _patch(
            "abdomen.flank",
            4,
            [(22, 130), (36, 124), (36, 148), (40, 172), (24, 172), (22, 150)],
            ((92, 134), (28, 146)),
        ),
        _patch(
            "forearm", 5, [(50, 149), (63, 144), (72, 164), (79, 188), (63, 190), (54, 168)], ((-96, 172), (-63, 166))
        ),
        _patch(
            "thigh.front",
            6,
            [(7, 206), (20, 200), (25, 212), (24, 246), (18, 266), (9, 262), (6, 232)],
            ((-70, 250), (-17, 240)),
        ),
        _patch(
            "thigh.outer",
            7,
            [(28, 198), (42, 194), (43, 216), (38, 254), (30, 268), (28, 246), (29, 214)],
            ((70, 250), (33, 236)),
        ),
    ),
)
BACK = View(
    "back",
    _OUTLINE,
    (
        _patch(
            "upper_arm.back", 8, [(38, 88), (52, 86), (58, 112), (62, 134), (44, 140), (38, 114)], ((92, 92), (49, 112))
        ),
        _patch(
            "lower_back",
            9,
            [(0, 136), (24, 136), (26, 150), (24, 164), (0, 168)],
            ((-92, 138), (-14, 152)),
            middle=True,
        ),
        _patch(
            "buttock",
            10,
            [(4, 178), (20, 174), (42, 180), (42, 204), (26, 213), (8, 210), (3, 196)],
            ((58, 232), (26, 198)),
        ),
        _patch(
            "calf",
            11,
            [(8, 290), (20, 282), (36, 290), (36, 310), (28, 334), (12, 336), (6, 312)],
            ((64, 318), (24, 308)),
        ),
    ),
)
VIEWS = (FRONT, BACK)
