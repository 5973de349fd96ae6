import xml.etree.ElementTree as ET

import pytest

from pooling.caution import CAUTION_SHORT
from pooling.cli.picture import draw_png, draw_svg, pairs_plot
from pooling.columns import columns_from
from pooling.record import record_from


@pytest.fixture
def columns(good_record):
    good_record["pairs"][0] |= {"sensor": None, "sensor_mark": "below"}
    good_record["pairs"][1] |= {"prompt": "calibration"}
    return columns_from(record_from(good_record | {"calibrated": True}))


def rings(spec):
    return [(point["reference"], point["sensor"]) for point in spec["layer"][-1]["data"]["values"]]


def test_the_measured_pairs_and_no_others_are_drawn(columns):
    assert rings(pairs_plot(columns, "mg/dL")) == [(88, 97.5), (203, 181), (64, 71)]


def test_in_the_other_unit_points_and_lines_move_alike(columns):
    # 88, 203, 64 and 97.5, 181, 71 mg/dL by 18.0156 mg/dL per mmol/L.
    spec = pairs_plot(columns, "mmol/L")
    assert rings(spec) == [(4.88, 5.41), (11.27, 10.05), (3.55, 3.94)]
    corner = spec["layer"][2]["data"]["values"][1]
    assert (corner["reference"], corner["sensor"]) == pytest.approx((100 / 18.0156, 115 / 18.0156))


def test_the_axes_hold_the_highest_reading(columns, good_record):
    assert pairs_plot(columns, "mg/dL")["layer"][0]["encoding"]["y"]["scale"]["domain"] == [0, 300]
    good_record["pairs"][2]["sensor"] = 401
    record = record_from(good_record | {"calibrated": True})
    assert pairs_plot(columns_from(record), "mg/dL")["layer"][0]["encoding"]["x"]["scale"]["domain"] == [0, 500]


def test_it_is_drawn_with_the_caution_in_it(columns):
    spec = pairs_plot(columns, "mg/dL")
    assert CAUTION_SHORT in " ".join(spec["title"]["subtitle"])
    drawing = ET.fromstring(draw_svg(spec))
    assert "at the wearer's own risk" in " ".join(drawing.itertext())
    assert draw_png(spec).startswith(b"\x89PNG")
