import re

from pooling.cli.exits import MEANING, Exit
from tests.house.tree import ROOT


def test_every_code_has_a_meaning_and_the_help_lists_it(commonwear):
    shown = commonwear("--help").out
    assert set(MEANING) == set(Exit)
    assert all(
        re.search(rf"^ +{code:d}  {re.escape(meaning)}$", shown, re.MULTILINE) for code, meaning in MEANING.items()
    )


def test_the_page_lists_the_same_codes():
    page = (ROOT / "docs" / "CLI.md").read_text(encoding="utf-8")
    assert {
        int(code): meaning for code, meaning in re.findall(r"^\| (\d+) \| (.+?) \|$", page, re.MULTILINE)
    } == MEANING
