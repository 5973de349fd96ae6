import numpy as np
import pytest

from pooling.errors import InvalidInput
from pooling.importing.units import BOUNDS, check_magnitudes, outside, unit_of

LINES = np.arange(2, 10)


@pytest.mark.parametrize(
    ("numbers", "unit"),
    [
        ([4.1, 9.9, 17.9], "mmol/L"),
        ([4.1, 33.3], "mmol/L"),
        ([20.0, 33.4], "mg/dL"),
        ([62, 400], "mg/dL"),
        ([18.0, 33.3], None),
        ([22.0, 31.0], None),
        ([5.4, 112.0], None),
        ([np.nan], None),
        ([], None),
        ([np.nan, 6.0], "mmol/L"),
    ],
    ids=str,
)
def test_what_the_magnitudes_say(numbers, unit):
    assert unit_of(np.array(numbers)) == unit


def test_the_bounds_are_the_same_readings_in_both_units():
    """To a tenth of a mmol/L: 18.0156 mg/dL a mmol/L, from the molar mass of glucose, 180.156 g/mol."""
    for in_mg_dl, in_mmol_l in zip(BOUNDS["mg/dL"], BOUNDS["mmol/L"], strict=True):
        assert in_mg_dl / 18.0156 == pytest.approx(in_mmol_l, abs=0.05)


def test_what_lies_outside_is_named_by_line_and_never_repeated():
    numbers = np.array([112, 5.4, np.nan, 601, 130, 140, 150, 160.0])
    assert outside(numbers, "mg/dL").tolist() == [False, True, False, True] + [False] * 4
    with pytest.raises(InvalidInput, match="lines 3, 5, column 2") as caught:
        check_magnitudes(numbers, LINES, 1, "mg/dL")
    assert "5.4" not in str(caught.value)
    assert "601" not in str(caught.value)


def test_a_mix_of_units_is_told_as_one():
    with pytest.raises(InvalidInput, match=r"line 3, column 1.*mmol/L\? A file has to keep to one unit"):
        check_magnitudes(np.array([112, 5.4]), LINES[:2], 0, "mg/dL")
    with pytest.raises(InvalidInput, match=r"line 2, column 1.*mg/dL\? A file has to keep to one unit"):
        check_magnitudes(np.array([112, 5.4]), LINES[:2], 0, "mmol/L")


@pytest.mark.parametrize("unit", [None, "mg/dl", "g/L"])
def test_a_unit_that_is_not_known_is_asked_for(unit):
    with pytest.raises(InvalidInput, match="mg/dL or mmol/L"):
        check_magnitudes(np.array([112.0]), LINES[:1], 0, unit)
