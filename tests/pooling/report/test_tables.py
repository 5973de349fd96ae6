import numpy as np
import pytest

from pooling.report import tables
from pooling.simulate import single_wear


@pytest.fixture
def report(read):
    return read(single_wear(np.random.default_rng(2), "calf", "demo-b10", n_pairs=100)).report()


def _rows(table):
    return {row[0]: row[1:] for row in table.rows}


def test_every_table_has_as_many_cells_as_headings(report):
    made = [
        *(table(report, "mg/dL") for table in (tables.levels, tables.measures, tables.limits, tables.lines)),
        *(table(report) for table in (tables.zones, tables.lows, tables.wear)),
        tables.groups(report, "mg/dL", ["phase", "rate"], "x"),
    ]
    assert {len(row) - len(table.header) for table in made for row in table.rows} == {0}


def test_measures_with_margin_and_rule(report):
    rows = _rows(tables.measures(report, "mg/dL"))
    low, high = report["intervals"]["mard_pct"]
    assert rows["MARD: mean of the absolute differences in per cent of the fingerstick"] == (
        f"{report['mard_pct']:.1f} %",
        f"{low:.1f} to {high:.1f} %",
    )
    assert any(name.startswith("40/40: within 40 mg/dL of fingersticks below 100 mg/dL, within 40 %") for name in rows)
    assert rows["Bias: mean of sensor minus fingerstick"][0].startswith("−" if report["bias_mg_dl"] < 0 else "+")


def test_measures_in_the_other_unit(report):
    rows = _rows(tables.measures(report, "mmol/L"))
    # 18.0156 mg/dL per mmol/L; 15 mg/dL are 0.83 and 100 are 5.55 mmol/L.
    assert rows["MAD: mean of the absolute differences"][0] == f"{report['mad_mg_dl'] / 18.0156:.2f} mmol/L"
    assert any(name.startswith("15/15: within 0.83 mmol/L of fingersticks below 5.55 mmol/L") for name in rows)
    assert "mg/dL" not in str(rows)


def test_groups_without_a_figure_say_so_and_empty_ones_are_left_out(report):
    assert _rows(tables.groups(report, "mg/dL", ["rate"], "x")) == {}
    phases = _rows(tables.groups(report, "mg/dL", ["phase"], "x"))
    assert phases["day 1"] == ("5", "too few", "")
    later = report["groups"]["phase"][1]
    low, high = later["mard_interval_pct"]
    assert phases["days 2 to 7"][1] == f"{later['mard_pct']:.1f} % ({low:.1f} to {high:.1f})"


def test_few_pairs_have_no_margin(wear_of):
    report = wear_of([100, 120], [110, 126]).report()
    assert {row[2] for row in tables.measures(report, "mg/dL").rows} == {"too few"}


def test_what_is_known_of_the_wear(read, good_record):
    rows = _rows(tables.wear(read(good_record).report()))
    assert rows["site"] == ("flank, left",)
    assert rows["on the skin"] == ("for 13.9 days, worn to the end of its life",)
    assert rows["day 11"] == ("an edge came loose",)
    assert rows["skin"] == ("a mark or faint redness that was gone half an hour after removal; itch",)
    assert rows["rated, 0 worst to 10 best"] == ("ease 8, comfort 6, discretion 9",)


def test_lows_and_lines_and_limits(report):
    lows = report["lows"]
    shown = _rows(tables.lows(report))
    assert shown["low by the fingerstick"][0] == str(lows["n_low_by_reference"])
    assert shown["of these missed by the sensor"][0] == str(lows["n_low_by_reference"] - lows["n_of_them_shown_low"])
    slope = report["lines"]["deming"]["slope"]
    assert _rows(tables.lines(report, "mg/dL"))["Deming"][0].startswith(f"{slope:.2f} (")
    report["lines"]["deming"] = None
    assert _rows(tables.lines(report, "mg/dL"))["Deming"] == ("these pairs give none", "")
    upper = report["limits"]["mg_dl"]["upper"]
    assert _rows(tables.limits(report, "mg/dL"))["upper limit"][0].startswith(f"+{upper:.1f} (+")
