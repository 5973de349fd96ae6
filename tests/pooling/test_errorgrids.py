from collections import defaultdict
from fractions import Fraction
from itertools import pairwise

import numpy as np
import pytest

from pooling.errorgrids import clarke_zones, consensus_borders, consensus_zones
from pooling.errors import InvalidInput


def _columns(rows):
    return [[float(row[name]) for row in rows] for name in ("reference_mg_dl", "sensor_mg_dl")]


@pytest.mark.parametrize(("diabetes_type", "n_points"), [(1, 52), (2, 31)])
def test_consensus_points(published, diabetes_type, n_points):
    # Corners: Pfützner et al., J Diabetes Sci Technol 2013;7:1275; points worked from them in rational arithmetic.
    rows = [row for row in published("consensus_points") if int(row["diabetes_type"]) == diabetes_type]
    assert len(rows) == n_points
    zones = consensus_zones(*_columns(rows), diabetes_type=diabetes_type)
    assert zones.tolist() == [row["zone"] for row in rows]


@pytest.mark.parametrize("diabetes_type", [1, 2])
def test_consensus_against_the_corners_in_rational_arithmetic(published, diabetes_type):
    lines = defaultdict(list)
    for row in published("consensus_vertices"):
        if int(row["diabetes_type"]) == diabetes_type:
            corner = (Fraction(row["reference_mg_dl"]), Fraction(row["sensor_mg_dl"]))
            lines[row["zone"], row["side"]].append(corner)
    lattice = [(r, s) for r in range(5, 640, 15) for s in range(1, 640, 11)]
    found = consensus_zones(*map(list, zip(*lattice, strict=True)), diabetes_type=diabetes_type)
    assert found.tolist() == [_exact_zone(lines, Fraction(r), Fraction(s)) for r, s in lattice]
    assert set(found) == set("ABCDE")


def _exact_zone(lines, r, s):
    zone = "A"
    for (letter, side), corners in sorted(lines.items()):
        if side == "upper" and s > _exact_height(corners, r):
            zone = letter
        if side == "lower" and r > corners[0][0] and s < _exact_height(corners, r):
            zone = letter
    return zone


def _exact_height(corners, r):
    """Height over the first segment that reaches `r`, vertical ones passed over; the last segment runs on."""
    segments = [(a, b) for a, b in pairwise(corners) if a[0] != b[0]]
    (x0, y0), (x1, y1) = next((segment for segment in segments if r <= segment[1][0]), segments[-1])
    return y0 + (y1 - y0) * (r - x0) / (x1 - x0)


@pytest.mark.parametrize("diabetes_type", [1, 2])
def test_borders_to_draw_are_the_published_corners(published, diabetes_type):
    # Pfützner et al., J Diabetes Sci Technol 2013;7:1275-1281.
    lines = defaultdict(list)
    for row in published("consensus_vertices"):
        if int(row["diabetes_type"]) == diabetes_type:
            lines[row["zone"], row["side"]].append((float(row["reference_mg_dl"]), float(row["sensor_mg_dl"])))
    drawn = sorted((zone, tuple(dict.fromkeys(corners))) for zone, corners in consensus_borders(diabetes_type))
    assert drawn == sorted((zone, tuple(corners)) for (zone, _), corners in lines.items())


def test_borders_part_the_zones():
    # A step to either side of the middle of each sloping segment changes the zone.
    for zone, corners in consensus_borders():
        for (x0, y0), (x1, y1) in pairwise(corners):
            if x0 != x1:
                x, y = (x0 + x1) / 2, (y0 + y1) / 2
                assert zone in set(consensus_zones([x, x], [y - 0.01, y + 0.01]))
                assert len(set(consensus_zones([x, x], [y - 0.01, y + 0.01]))) == 2


def test_clarke_points_on_which_programs_agree(published):
    # Clarke et al., Diabetes Care 1987;10:622-628; points on which four independent public programs agree.
    rows = [row for row in published("clarke_points") if row["programs_agree"] == "yes"]
    assert len(rows) == 28
    assert clarke_zones(*_columns(rows)).tolist() == [row["zone"] for row in rows]


def test_clarke_points_that_pin_our_own_convention(published):
    rows = [row for row in published("clarke_points") if row["programs_agree"] == "no"]
    assert len(rows) == 8
    assert clarke_zones(*_columns(rows)).tolist() == [row["zone"] for row in rows]


@pytest.mark.parametrize("zones", [consensus_zones, clarke_zones])
def test_perfect_readings_are_in_zone_a(zones):
    readings = np.arange(20.0, 601.0)
    assert set(zones(readings, readings)) == {"A"}


@pytest.mark.parametrize("diabetes_type", [1, 2])
def test_every_border_lies_beyond_the_one_before(diabetes_type):
    """Borders are asked about the pairs beyond the one before only; here each is asked about every lattice point."""
    at = np.arange(0.5, 1000, 7)
    reference, sensor = (axis.ravel() for axis in np.meshgrid(at, at))
    expected = np.full(reference.shape, "A")
    for zone, line in consensus_borders(diabetes_type):
        x, y = np.array(line, dtype=np.float64).T
        slope = (y[-1] - y[-2]) / (x[-1] - x[-2])
        height = np.where(reference > x[-1], y[-1] + slope * (reference - x[-1]), np.interp(reference, x, y))
        is_upper = line[0][0] == 0
        beyond = sensor > height if is_upper else (sensor < height) & (reference > x[0])
        expected = np.where(beyond & (expected < zone), zone, expected)
    assert consensus_zones(reference, sensor, diabetes_type=diabetes_type).tolist() == expected.tolist()


@pytest.mark.parametrize("zones", [consensus_zones, clarke_zones])
def test_a_pair_has_its_zone_however_many_others_there_are(zones):
    rng = np.random.default_rng(3)
    reference, sensor = rng.uniform(20, 600, (2, 70_000))
    assert zones(reference, sensor)[1:].tolist() == zones(reference[1:], sensor[1:]).tolist()


@pytest.mark.parametrize("zones", [consensus_zones, clarke_zones])
def test_no_pair_no_zone(zones):
    assert zones([], []).tolist() == []


@pytest.mark.parametrize("zones", [consensus_zones, clarke_zones])
def test_gaps_are_refused(zones):
    with pytest.raises(InvalidInput, match="finite"):
        zones([100.0], [np.nan])


def test_there_are_two_types():
    with pytest.raises(InvalidInput, match="1 or 2"):
        consensus_zones([100], [100], diabetes_type=3)
    with pytest.raises(InvalidInput, match="1 or 2"):
        consensus_borders(3)
