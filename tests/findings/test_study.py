"""A small study, held to what docs/METHODS.md says of a large one."""

import re
from pathlib import Path

import numpy as np
import pytest

from tests.findings.study import as_markdown, clocks, study

METHODS = (Path(__file__).parents[2] / "docs" / "METHODS.md").read_text(encoding="utf-8")
LEAST_FOUND_PCT = {"swapped_columns": 15, "digit_preference": 60, "pressure_lows": 60, "meter_noise": 60}


@pytest.fixture(scope="module")
def rows():
    return study(np.random.default_rng(5), n_records=400, n_exports=30, n_planted=15)


def test_good_wears_stay_without_a_remark(rows):
    # At a rate of 1 %, ten of 400 are exceeded in less than one study in a hundred; so are three of 30.
    for row in rows:
        assert (row.in_records_pct or 0) <= 100 * 10 / 400, row.code
        assert (row.in_exports_pct or 0) <= 100 * 3 / 30, row.code


def test_planted_faults_are_found(rows):
    missed = {row.code: row.found_pct for row in rows if row.found_pct < LEAST_FOUND_PCT.get(row.code, 85)}
    assert missed == {}


def test_every_planted_fault_has_its_line_in_the_documents(rows):
    for row in rows:
        assert re.search(rf"^\| {row.code} \|.*\| {re.escape(row.planted)} \|", METHODS, re.MULTILINE), row.planted


def test_no_documented_false_alarm_exceeds_one_in_a_hundred():
    lines = re.findall(r"^\| [a-z_]+ \| ([\d.]*) \| ([\d.]*) \| .* \| \d+ \|$", METHODS, re.MULTILINE)
    assert len(lines) >= 18
    assert max(float(share) for line in lines for share in line if share) <= 1.0


def test_tables_have_a_line_for_each_row(rows):
    assert len(as_markdown(rows).splitlines()) == len(rows) + 2
    assert len(clocks(np.random.default_rng(6), 3).splitlines()) == 6
