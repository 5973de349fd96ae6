import pytest

from pooling.cli.figures import figure_rows
from pooling.columns import columns_from
from pooling.record import record_from
from pooling.report import wear_report


@pytest.fixture
def rows(good_record):
    def of(unit):
        record = record_from(good_record)
        return dict(figure_rows(wear_report(columns_from(record), record), unit))

    return of


def test_the_rows_by_hand(rows):
    # References 112 141 88 203 64 beside 98 150 97.5 181 71: differences -14 9 9.5 -22 7, their sizes 61.5 in all,
    # their sum -10.5; ARD 12.5, 6.38, 10.80, 10.84, 10.94 %, their mean 10.29 and median 10.84.
    shown = rows("mg/dL")
    assert shown["average difference (MARD)"] == "10.3 %"
    assert shown["median difference"] == "10.8 %"
    assert shown["average difference in glucose"] == "12.3 mg/dL"
    assert shown["on average the sensor read"] == "2.1 mg/dL lower than the fingerstick"
    assert shown["within 15 mg/dL or 15 %"] == "100 % of the pairs"
    assert shown["fingersticks below 70 mg/dL"] == "1, of them the sensor showed 0 as low"
    assert shown["worn"] == "13.9 days, worn to the end of its life"


def test_the_same_rows_in_the_other_unit(rows):
    # 12.3 and 2.1 mg/dL are 0.68 and 0.12 mmol/L (18.0156 mg/dL each, molar mass of glucose 180.156 g/mol).
    shown = rows("mmol/L")
    assert shown["average difference in glucose"] == "0.68 mmol/L"
    assert shown["on average the sensor read"] == "0.12 mmol/L lower than the fingerstick"
    assert "fingersticks below 3.9 mmol/L" in shown
    assert not any("mg/dL" in name + text for name, text in shown.items())


def test_without_a_pair_only_what_was_counted_is_shown(rows, good_record):
    good_record["pairs"] = []
    assert list(rows("mg/dL")) == [
        "site",
        "worn",
        "pairs measured",
        "sensor out of its range",
        "fingersticks that calibrated it",
    ]


def test_one_pair_has_no_margin_and_no_difference_has_no_direction(rows, good_record):
    good_record["pairs"] = [good_record["pairs"][0] | {"sensor": 112}]
    shown = rows("mg/dL")
    assert shown["average difference (MARD)"] == "0.0 %"
    assert shown["on average the sensor read"] == "as the fingerstick"
    assert shown["fingersticks below 70 mg/dL"] == "none"
