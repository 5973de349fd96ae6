import numpy as np
import pytest

from pooling.caution import CAUTION_SHORT
from pooling.report import LicensedSite, report_png
from pooling.report.picture import summary_chart
from pooling.simulate import single_wear


@pytest.fixture
def wear(read):
    return read(single_wear(np.random.default_rng(2), "calf", "demo-b10", n_pairs=60))


def _words(chart):
    parts = [part for part in chart["vconcat"] if "layer" not in part]
    return " ".join(value["label"] for part in parts for value in part["data"]["values"])


def test_the_caution_is_in_the_picture(wear):
    assert CAUTION_SHORT in _words(summary_chart(wear.report(), wear.columns, "mg/dL"))
    off_label = wear.report(licensed=[LicensedSite("chest", "all")])
    assert "Off-label:" in _words(summary_chart(off_label, wear.columns, "mg/dL"))
    named = wear.report(licensed=[LicensedSite("calf", "all")])
    assert "Off-label:" not in _words(summary_chart(named, wear.columns, "mg/dL"))


def test_what_bars_show_is_not_said_twice(wear):
    words = _words(summary_chart(wear.report(), wear.columns, "mg/dL"))
    assert "Beside a fingerstick of 100 mg/dL" in words
    assert "When the fingerstick" not in words
    assert "One sensor is not the site" in words


@pytest.mark.parametrize(("n_pairs", "n_charts"), [(60, 2), (3, 1), (0, 0)])
def test_it_is_drawn_whatever_there_is(read, n_pairs, n_charts):
    content = single_wear(np.random.default_rng(2), "calf", "demo-b10", n_pairs=60)
    wear = read(content | {"pairs": content["pairs"][:n_pairs]})
    chart = summary_chart(wear.report(), wear.columns, "mmol/L")
    assert sum("layer" in part for part in chart["vconcat"]) == n_charts
    assert report_png(wear.report(), wear.columns, "mmol/L").startswith(b"\x89PNG")


def test_the_same_wear_gives_the_same_bytes(wear):
    first, again = (report_png(wear.report(), wear.columns, "mg/dL") for _ in range(2))
    assert first == again
