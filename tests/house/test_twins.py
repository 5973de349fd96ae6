"""Tests mirror the tree: whoever changes a module knows where its tests are."""

import ast
from pathlib import Path

from tests.house.tree import CODE, ROOT, files, name_of

# Declarations, looked at by the tests of this folder; what a command does is in the modules that it calls.
NO_TWIN = {"__init__.py", "__main__.py", "apps.py", "fields.py", "urls.py", "signals.py"}
NO_TWIN_IN = ("migrations", "management")


def does_something(path: Path) -> bool:
    """Whether a module has a function of its own, beyond how an object is made and prints itself."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    named = [node.name for node in ast.walk(tree) if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)]
    return any(not name.startswith("__") for name in named)


def twins(path: Path) -> list[Path]:
    """`test_<module>.py` in the same place, or `test_<module>_<aspect>.py` beside it."""
    place = ROOT / "tests" / path.relative_to(ROOT).parent
    return [place / f"test_{path.stem}.py", *place.glob(f"test_{path.stem}_*.py")]


def test_every_module_that_does_something_has_a_twin():
    alone = [
        name_of(path)
        for path in files(*CODE)
        if path.name not in NO_TWIN
        and not set(NO_TWIN_IN) & set(path.parts)
        and does_something(path)
        and not any(twin.exists() for twin in twins(path))
    ]
    assert alone == []
