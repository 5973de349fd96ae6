"""What may stand in the project's files, and how long they may be."""

import ast
import re

from tests.house.tree import CODE, MADE, ROOT, files, name_of

TOP_LEVEL = {"README.md", "DEVELOPERS.md", "pyproject.toml", "server", "pooling", "tests", "fixtures", "deploy", "docs"}
TEXT = (".py", ".md", ".html", ".css", ".js", ".txt", ".toml", ".json", ".csv", ".example", ".yml", ".service", "")
LONGEST_FILE, LONGEST_FUNCTION, LONGEST_TEMPLATE = 400, 50, 150
# Written in pieces, so that this file does not hold what it looks for.
MACHINE_PATH = re.compile(
    "|".join(rf"(?<![\w.])/{place}/\w" for place in ("work", "root", "home/[a-z]+", "Users/[A-Za-z]+"))
)
NOT_ON_PAGES = re.compile(r"\b(ledger|blocks?|seal(s|ed|ing)?|admission)\b", re.IGNORECASE)
TEMPLATE_CODE = re.compile(r"\{%.*?%\}|\{\{.*?\}\}|\{#.*?#\}", re.DOTALL)


def test_the_top_level_holds_exactly_what_belongs_there():
    found = {path.name for path in ROOT.iterdir() if not path.name.startswith(".")} - MADE
    assert {name for name in found if not name.endswith(".egg-info")} == TOP_LEVEL


def test_files_stay_short():
    long = {
        name_of(path): len(path.read_text(encoding="utf-8").splitlines())
        for path in files(*CODE, "tests", suffixes=(".py", ".css", ".js"))
        if "migrations" not in path.parts
    }
    assert {name: n_lines for name, n_lines in long.items() if n_lines >= LONGEST_FILE} == {}


def test_templates_stay_short():
    long = {name_of(p): len(p.read_text(encoding="utf-8").splitlines()) for p in files("server", suffixes=(".html",))}
    assert {name: n_lines for name, n_lines in long.items() if n_lines >= LONGEST_TEMPLATE} == {}


def n_body_lines(function: ast.FunctionDef | ast.AsyncFunctionDef) -> int:
    """Lines of a function without its head and its docstring."""
    body = function.body[1:] if ast.get_docstring(function) is not None else function.body
    return function.end_lineno - body[0].lineno + 1 if body and function.end_lineno else 0


def test_functions_stay_short():
    lengths = {
        f"{name_of(path)}:{node.name}": n_body_lines(node)
        for path in files(*CODE)
        if "migrations" not in path.parts
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)
    }
    longest = sorted(lengths.items(), key=lambda item: -item[1])[:10]
    print(*(f"{n_lines:4} {name}" for name, n_lines in longest), sep="\n")  # noqa: T201
    assert {name: n_lines for name, n_lines in lengths.items() if n_lines > LONGEST_FUNCTION} == {}


def test_no_file_knows_the_machine_it_was_written_on():
    places = sorted(TOP_LEVEL - {"README.md", "DEVELOPERS.md", "pyproject.toml"})
    found = [*files(*places, suffixes=TEXT), *(path for path in ROOT.glob("*.*") if path.is_file())]
    lines = [
        f"{name_of(path)}:{number}"
        for path in found
        # Some exports are kept in old code pages on purpose.
        for number, line in enumerate(path.read_text(encoding="utf-8", errors="replace").splitlines(), start=1)
        if MACHINE_PATH.search(line)
    ]
    assert lines == []


def test_pages_speak_plainly():
    lines = [
        f"{name_of(path)}: {word.group(0)}"
        for path in files("server", suffixes=(".html",))
        for word in NOT_ON_PAGES.finditer(TEMPLATE_CODE.sub(" ", path.read_text(encoding="utf-8")))
    ]
    assert lines == []


def test_the_privacy_pages_for_members_and_moderators_speak_plainly():
    page = (ROOT / "docs" / "PRIVACY.md").read_text(encoding="utf-8")
    plain = page[page.index("## For members") : page.index("## For reviewers")]
    assert [word.group(0) for word in NOT_ON_PAGES.finditer(plain)] == []
    prose = " ".join(line for line in plain.splitlines() if not line.startswith(("|", "#")))
    lengths = [len(sentence.split()) for sentence in re.split(r"[.:;!?]\s", prose)]
    assert max(lengths) <= 25
    assert sum(lengths) / len(lengths) <= 12
