import numpy as np
import pytest

from pooling.importing.types import ABOVE, BELOW, NUMBER
from pooling.importing.values import EMPTY, UNREADABLE, has_decimal_comma, values


def read(cell, decimal="."):
    result = values([cell], decimal)
    return float(result.number[0]), int(result.kind[0])


# Words for out of range in nine languages (from memory), and the signs in use everywhere.
@pytest.mark.parametrize(
    "cell",
    [
        *("LO", "Low", "lo", "< 40", "<2,2", "≤40", "below 40", "niedrig", "tief", "bas", "basse", "bajo", "baja"),
        *("basso", "laag", "baixo", "niski", "niska", "poniżej", "låg", "lågt", "<40 mg/dL", "low (<40)"),
    ],
)
def test_marks_below(cell):
    assert read(cell)[1] == BELOW
    assert np.isnan(read(cell)[0])


@pytest.mark.parametrize(
    "cell",
    [
        *("HI", "High", "> 400", ">22,2", "≥400", "above 400", "hoch", "haut", "élevé", "élevée", "alto", "alta"),
        *("hoog", "wysoki", "wysoka", "powyżej", "hög", "högt", "HI 400 mg/dL"),
    ],
)
def test_marks_above(cell):
    assert read(cell)[1] == ABOVE


@pytest.mark.parametrize(
    ("cell", "decimal", "number"),
    [
        ("112", ".", 112),
        (" 112 ", ".", 112),
        ("112 mg/dL", ".", 112),
        ("5.4", ".", 5.4),
        ("5,4", ",", 5.4),
        ("5.4", ",", 5.4),
        ("5,4 mmol/l", ",", 5.4),
        ("5.4000000000000004", ".", 5.4),
        ("+7", ".", 7),
        ("-3", ".", -3),
        ("'112", ".", 112),
        ("7.", ".", 7),
        ("٧", ".", 7),
        ("５,４", ",", 5.4),
    ],
)
def test_numbers(cell, decimal, number):
    assert read(cell, decimal) == (number, NUMBER)


@pytest.mark.parametrize("cell", ["", " ", "-", "---", "n/a", "NaN", "k.A.", "brak", "No data", "…"])
def test_cells_without_a_reading(cell):
    assert read(cell)[1] == EMPTY


@pytest.mark.parametrize(
    "cell",
    ["lunch", "1_0", "1e3", "inf", "1.2.3", "5,4", "1 234", "=1+1", "high or low", "9" * 50, "112 units of it"],
)
def test_all_else_cannot_be_read(cell):
    assert read(cell, ".")[1] == UNREADABLE


def test_a_column_of_many_repeats_is_read_like_its_cells():
    cells = ["112", "LO", "", "x", "5.5"] * 50
    read_at_once = values(cells, ".")
    one_by_one = [read(cell) for cell in cells]
    np.testing.assert_array_equal(read_at_once.number, [number for number, _ in one_by_one])
    assert read_at_once.kind.tolist() == [kind for _, kind in one_by_one]


def test_a_decimal_comma_is_seen_anywhere_in_the_column():
    assert has_decimal_comma(["5", "6", "5,4"])
    assert not has_decimal_comma(["5", "6, 7", "5.4"])
