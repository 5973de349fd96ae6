"""The worked pages say what the program does."""

import doctest
from pathlib import Path

WORKED = Path(__file__).parents[2] / "docs" / "WORKED.md"


def test_every_number_of_the_worked_pages_is_computed():
    failed, tried = doctest.testfile(str(WORKED), module_relative=False, verbose=False)
    assert failed == 0
    assert tried > 40
