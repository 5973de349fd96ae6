import json
import re

import pytest

from pooling.caution import CAUTION_SHORT
from pooling.columns import columns_from
from pooling.record import record_from
from pooling.report import wear_report
from pooling.vocabulary import GLUCOSE_UNITS


def flat(text: str) -> str:
    return " ".join(text.split())


def test_the_report_in_the_records_own_unit(commonwear, write, good_record):
    ended = commonwear("report", write(good_record))
    assert ended.code == 0
    assert "What one wear on the flank says" in ended.out
    assert "sensor and fingerstick were 12 mg/dL apart on average" in flat(ended.out)
    assert CAUTION_SHORT in flat(ended.out)
    assert max(map(len, ended.out.splitlines())) <= 80


def test_the_report_in_the_other_unit_however_it_is_typed(commonwear, write, good_record):
    ended = commonwear("report", write(good_record), "--unit", "MMOL/l")
    assert "sensor and fingerstick were 0.7 mmol/L apart" in flat(ended.out)


def test_the_figures_by_hand(commonwear, write, good_record):
    # References 112 141 88 203 64 beside 98 150 97.5 181 71: differences -14 9 9.5 -22 7, their sizes 61.5 in all and
    # their sum -10.5; ARD 12.5, 6.38, 10.80, 10.84, 10.94 %, so that the mean is 10.29 and the median 10.84.
    shown = flat(commonwear("report", write(good_record)).out)
    for figure in (
        "MARD: .{20,80} 10.3 %",
        "Median ARD: .{20,40} 10.8 %",
        "MAD: .{20,50} 12.3 mg",
        "Bias: .{20,50} −2.1 mg",
    ):
        assert re.search(figure, shown)
    assert "low by the fingerstick 1" in shown
    assert "Limits of agreement" not in shown


@pytest.mark.parametrize("unit", GLUCOSE_UNITS)
def test_every_table_of_the_page_in_either_unit(commonwear, write, wear, unit):
    ended = commonwear("report", write(wear), "--unit", unit)
    (other,) = set(GLUCOSE_UNITS) - {unit}
    assert other not in ended.out.partition("What one wear cannot say")[0]
    for heading in (
        "The wear itself: as recorded",
        "The trade's measures: every measure",
        "When it was nearer, and when farther off: by day",
        "Lows: by fingerstick",
        "Error grids: share of the pairs in each zone",
        "Straight lines between the two: sensor =",
    ):
        assert heading in flat(ended.out)
    assert max(map(len, ended.out.splitlines())) <= 80


def test_what_is_off_label_is_said_first(commonwear, write, wear):
    assert "Whether the sensor's instructions name this site is not known here." in flat(
        commonwear("report", write(wear)).out
    )


def test_a_unit_that_is_none_is_a_mistake_in_the_command(commonwear, write, good_record):
    assert commonwear("report", write(good_record), "--unit", "g/L").code == 2


def test_json_is_the_report_itself(commonwear, write, good_record):
    ended = commonwear("report", write(good_record), "--json")
    record = record_from(good_record)
    assert ended.json == json.loads(json.dumps(wear_report(columns_from(record), record)))
    assert CAUTION_SHORT in flat(ended.err)


def test_page_and_picture_are_written_and_named(commonwear, write, good_record, tmp_path):
    page, picture = tmp_path / "wear.html", tmp_path / "wear.png"
    ended = commonwear("report", write(good_record), "--html", page, "--png", picture)
    assert ended.code == 0
    assert "<svg" in page.read_text(encoding="utf-8")
    assert picture.read_bytes().startswith(b"\x89PNG")
    assert "wear.html" in ended.err
    assert "wear.png" in ended.err


def test_a_wear_without_pairs_has_a_report_and_a_page_without_a_picture(commonwear, write, good_record, tmp_path):
    page = tmp_path / "wear.html"
    ended = commonwear("report", write(good_record | {"pairs": []}), "--html", page)
    assert ended.code == 0
    assert "There is no pair to measure" in ended.out
    assert "<svg" not in page.read_text(encoding="utf-8")


def test_findings_stand_in_the_report(commonwear, write, good_record):
    assert "Worth knowing: 5 pairs can be counted." in commonwear("report", write(good_record)).out


def test_an_invalid_record_has_no_report(commonwear, write, good_record):
    ended = commonwear("report", write(good_record | {"site": "thigh"}), "--json")
    assert (ended.code, ended.out) == (1, "")
    assert "site (#/site)" in ended.err


def test_a_place_that_cannot_be_written_is_named(commonwear, write, good_record, tmp_path):
    ended = commonwear("report", write(good_record), "--png", tmp_path / "absent" / "wear.png")
    assert ended.code == 3
    assert "Choose another place" in flat(ended.err)
