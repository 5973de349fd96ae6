import pytest

from pooling.errors import InvalidInput
from pooling.importing.limits import at, named, refuse_above


def test_ten_lines_are_named_and_the_others_counted():
    assert named(range(1, 13)) == "lines 1, 2, 3, 4, 5, 6, 7, 8, 9, 10 and 2 more"
    assert at([7], 0) == "line 7, column 1"


def test_a_limit_is_still_allowed():
    refuse_above(5, 5, "5 rows", "export less")
    with pytest.raises(InvalidInput, match="the file has 6 rows, and 5 is the most that is read; export less"):
        refuse_above(6, 5, "6 rows", "export less")
