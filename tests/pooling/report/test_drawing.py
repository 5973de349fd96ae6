import xml.etree.ElementTree as ET

import numpy as np
import pytest

from pooling.errorgrids import consensus_zones
from pooling.report import drawing
from pooling.simulate import single_wear


@pytest.fixture(scope="module")
def long_wear():
    return single_wear(np.random.default_rng(2), "calf", "demo-b10", n_pairs=100)


@pytest.fixture
def wear(read, long_wear):
    return read(long_wear)


def _charts(wear, unit="mg/dL"):
    report = wear.report()
    return {
        "levels": drawing.levels_chart(report, unit),
        "groups": drawing.groups_chart(report, unit),
        "grid": drawing.grid_chart(wear.columns, unit),
        "days": drawing.days_chart(wear.columns),
        "limits": drawing.limits_chart(wear.columns, report, unit),
    }


def _values(chart, *fields):
    """The data of the marks, in order."""
    layer = next(layer for layer in chart["layer"] if layer["mark"]["type"] in ("point", "tick"))
    values = layer.get("data", chart.get("data"))["values"]
    return [tuple(value[field] for field in fields) for value in values]


@pytest.mark.parametrize("name", ["levels", "groups", "grid", "days", "limits"])
def test_every_chart_fits_a_phone_and_has_the_colours_of_the_palette_alone(wear, name):
    drawn = ET.fromstring(drawing.svg(_charts(wear)[name]))
    assert float(drawn.get("width")) <= 344
    paints = {element.get(paint) for element in drawn.iter() for paint in ("fill", "stroke")}
    assert paints - {None, "none", "transparent"} <= set(drawing.PALETTE.values())


def test_bars_hold_what_the_report_says(wear):
    report = wear.report()
    bars = _values(drawing.levels_chart(report, "mg/dL"), "lower", "upper", "mark")
    levels = [entry for entry in report["shows"] if entry["unit"] == "mg/dL"]
    assert bars[:3] == [
        pytest.approx((entry["from_mg_dl"], entry["to_mg_dl"], entry["reference_mg_dl"])) for entry in levels
    ]
    in_mmol = _values(drawing.levels_chart(report, "mmol/L"), "mark")
    # The round levels of the other unit: 3.9, 5.6 and 10.0.
    assert [mark for (mark,) in in_mmol[:3]] == pytest.approx([3.9, 5.6, 10.0], abs=0.001)


def test_groups_without_enough_pairs_are_not_drawn(wear):
    report = wear.report()
    drawn = _values(drawing.groups_chart(report, "mg/dL"), "label", "mark")
    known = [group["mard_pct"] for kind in ("level", "rate", "prompt") for group in report["groups"][kind]]
    assert [mark for _, mark in drawn] == [mard for mard in known if mard is not None]
    assert ("at planned times", report["groups"]["prompt"][0]["mard_pct"]) in drawn


def test_no_bars_without_anything_to_say(wear_of):
    report = wear_of([100, 120], [110, 126]).report()
    assert drawing.levels_chart(report, "mg/dL") is None
    assert drawing.groups_chart(report, "mg/dL") is None


@pytest.mark.parametrize(("unit", "factor"), [("mg/dL", 1), ("mmol/L", 18.0156)])
def test_rings_are_the_measured_pairs(wear_of, unit, factor):
    wear = wear_of([100, 150, 200, 90, 80], [110, 140, None, 99, 70], prompt=["other"] * 3 + ["calibration", "doubt"])
    rings = _values(drawing.grid_chart(wear.columns, unit), "x", "y")
    assert rings == [pytest.approx((r / factor, s / factor), abs=0.001) for r, s in [(100, 110), (150, 140), (80, 70)]]


def test_each_letter_lies_in_its_zone(wear):
    layer = next(layer for layer in drawing.grid_chart(wear.columns, "mg/dL")["layer"] if "text" in layer["encoding"])
    letters = layer["data"]["values"]
    zones = consensus_zones([one["x"] for one in letters], [one["y"] for one in letters])
    assert [one["zone"] for one in letters] == zones.tolist()
    assert set(zones) == set("ABCDE")


def test_days_begin_with_insertion_and_far_pairs_stay_in_sight(wear_of):
    wear = wear_of([100, 100, 100], [115, 250, 95], every_min=1440)
    assert _values(drawing.days_chart(wear.columns), "x", "y") == [(1.0, 15.0), (2.0, 60.0), (3.0, -5.0)]


def test_limits_are_drawn_where_the_report_has_them(wear):
    report = wear.report()
    chart = drawing.limits_chart(wear.columns, report, "mg/dL")
    heights = [layer["data"]["values"][0]["y"] for layer in chart["layer"][:3]]
    assert heights == [report["limits"]["mg_dl"][name] for name in ("lower", "bias", "upper")]
    assert len(_values(chart, "x", "y")) == 100


def test_borders_end_at_the_edge_of_the_square(wear):
    chart = drawing.grid_chart(wear.columns, "mg/dL")
    top = chart["layer"][0]["encoding"]["x"]["scale"]["domain"][1]
    corners = chart["layer"][0]["data"]["values"]
    assert all(0 <= corner[side] <= top + 1e-9 for corner in corners for side in ("x", "y"))
    ends = {corner["line"]: corner for corner in corners}
    assert len(ends) == 7
    assert all(max(end["x"], end["y"]) == pytest.approx(top) for end in ends.values())
    # From (140, 170) on it rises 1.5 for each 1 of the fingerstick (Pfützner et al. 2013).
    assert (ends["0"]["x"], ends["0"]["y"]) == pytest.approx((140 + (top - 170) / 1.5, top))
