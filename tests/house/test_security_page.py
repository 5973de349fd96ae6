"""Every requirement in docs/SECURITY.md names a test that exists, or a reason."""

import ast
import re

from tests.house.tree import ROOT, files, name_of

NAMED = re.compile(r"`(tests/[\w/]+\.py)::(\w+)`")
ROW = re.compile(r"^\| (\d+\.\d+\.\d+)")


def rows() -> list[str]:
    page = (ROOT / "docs" / "SECURITY.md").read_text(encoding="utf-8")
    return [line for line in page.splitlines() if ROW.match(line)]


def every_test() -> set[tuple[str, str]]:
    return {
        (name_of(path), node.name)
        for path in files("tests")
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.FunctionDef)
    }


def test_each_test_that_the_page_names_exists():
    named = {match for row in rows() for match in NAMED.findall(row)}
    assert len(named) > 20
    assert named - every_test() == set()


def test_each_requirement_stands_once_with_a_test_or_a_reason():
    numbers = [ROW.match(row).group(1) for row in rows()]
    assert len(numbers) > 40
    assert len(numbers) == len(set(numbers))
    bare = [
        number for number, row in zip(numbers, rows(), strict=True) if not NAMED.search(row) and "Reason:" not in row
    ]
    assert bare == []
