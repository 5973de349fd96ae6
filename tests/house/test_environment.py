"""deploy/env.example and docs/OPERATIONS.md name every variable that the server reads, and no other."""

import ast
import re

from tests.house.tree import ROOT, files

SECRET = {"secret", "secret_url"}
READERS = SECRET | {"text", "flag", "whole", "day", "url", "choice", "path", "keys_file"}
EXPLAINED = re.compile(r"^#?\s?([A-Z][A-Z_]+)=", re.MULTILINE)


def variables_read() -> set[str]:
    found = set()
    for path in files("server"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.func.attr in READERS:
                owner, first = node.func.value, node.args[0] if node.args else None
                if isinstance(owner, ast.Name) and owner.id == "env" and isinstance(first, ast.Constant):
                    found |= {first.value, f"{first.value}_FILE"} if node.func.attr in SECRET else {first.value}
    return found


def test_the_example_names_what_is_read_and_nothing_else():
    explained = EXPLAINED.findall((ROOT / "deploy" / "env.example").read_text(encoding="utf-8"))
    assert len(explained) == len(set(explained))
    assert set(explained) == variables_read()


def test_the_operators_table_names_them_too():
    page = (ROOT / "docs" / "OPERATIONS.md").read_text(encoding="utf-8")
    rows = [line.split("|")[1] for line in page.splitlines() if line.startswith("| `") and "_" in line.split("|")[1]]
    named = [name for row in rows for name in re.findall(r"`([A-Z_]+)`", row)]
    assert len(named) == len(set(named))
    assert set(named) == variables_read()


def test_only_the_readers_look_at_the_environment():
    looks = [
        str(path.relative_to(ROOT))
        for path in files("server")
        if path.name not in {"env.py", "__init__.py", "__main__.py", "wsgi.py", "worker.py"}
        and "demo" not in path.parts  # it starts the service as another process, in an environment of its own
        and re.search(r"os\.(environ|getenv)", path.read_text(encoding="utf-8"))
    ]
    assert looks == []
