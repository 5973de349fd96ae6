"""What the layers below the pages say, found where it is said.

`pooling` and the services know no language but English: an edition is one document whatever its reader speaks, and the
API answers every program alike. The pages translate what comes up from below by its English words
(`server/web/saying.py`). So that nobody has to list those words by hand, they are read from the source: a plain string
is a message, and an f-string is a message with a hole for each value, named after what stands in it.
"""

import ast
import re
from collections.abc import Iterator, Sequence
from itertools import product
from pathlib import Path
from typing import Final

ROOT: Final = Path(__file__).resolve().parents[2]
# Where words stand that come up to pages: a file or a folder each, or some constants of a file.
SPEAKING: Final = (
    "pooling/caution.py",
    "pooling/charts.py",
    "pooling/checks",
    "pooling/choice.py",
    "pooling/diagnosis.py",
    "pooling/disclosure.py",
    "pooling/edition/assembly.py",
    "pooling/edition/dictionary.py",
    "pooling/edition/preview.py",
    "pooling/edition/rows.py",
    "pooling/faults.py",
    "pooling/importing/archive.py",
    "pooling/importing/opening.py",
    "pooling/importing/proposal.py",
    "pooling/importing/remarks.py",
    "pooling/importing/series.py",
    "pooling/importing/table.py",
    "pooling/importing/text.py",
    "pooling/importing/typed.py",
    "pooling/importing/units.py",
    "pooling/importing/workbook.py",
    "pooling/marks.py",
    "pooling/odds.py",
    "pooling/own",
    "pooling/pairing",
    "pooling/planning",
    "pooling/preparation",
    "pooling/report",
    "pooling/studies.py",
    "pooling/vocabulary.py",
    "server/accounts",
    "server/accounts/models.py:Scope",
    "server/core/alone.py",
    "server/core/catalogue.py",
    "server/core/decoding.py",
    "server/core/errors.py",
    "server/core/processing.py:PARTICULARS,MINORS",
    "server/curation",
    "server/editions",
    "server/groups",
    "server/wears",
)
# Files among those that speak to programs, to operators, or of nothing that a page shows.
_SILENT: Final = frozenset(
    {
        *("migrations", "management", "apps.py", "tasks.py", "names.py", "fields.py", "holdings.py", "sessions.py"),
        *("models.py", "wall.py", "spent.py", "soundness.py", "admission.py", "auditing.py", "parts.py", "cutoff.py"),
        *("recovery.py", "throttles.py", "style.py", "markup.py"),
    }
)
# Files in which a word by itself may be a label; elsewhere it is the name of something.
_OF_SINGLE_WORDS: Final = frozenset(
    {
        *("pooling/vocabulary.py", "pooling/studies.py", "pooling/report/tables.py", "pooling/report/words.py"),
        *("pooling/checks/pairs.py", "pooling/checks/exports.py", "pooling/checks/course.py"),
        *("pooling/preparation/tables.py", "server/core/processing.py"),
    }
)
_MOST_WAYS: Final = 12
_WORDS: Final = re.compile(r"[A-Za-z]{2,}")
_NO_PROSE: Final = re.compile(r"_|^width=|^[a-z]+[.:/-](?! )|\\[dwsS]|\(\?|^[A-Z]+$|SELECT |^#/|^[a-z-]+/[a-z-]+$")


def speaking_files() -> list[tuple[Path, frozenset[str]]]:
    """Each file, and of which constants alone it is read; of all where none is named."""
    found = []
    for entry in SPEAKING:
        place, _, named = entry.partition(":")
        path = ROOT / place
        within = [path] if path.is_file() else sorted(path.rglob("*.py"))
        found += [(file, frozenset(filter(None, named.split(",")))) for file in within]
    return [(file, names) for file, names in found if names or not _SILENT & set(file.parts)]


def spoken() -> Iterator[tuple[str, str]]:
    """Each message with the file it stands in; a message may come more than once."""
    for path, names in speaking_files():
        where = path.relative_to(ROOT).as_posix()
        single = where in _OF_SINGLE_WORDS
        for message in messages_in(path.read_text(encoding="utf-8"), names):
            if single or " " in message:
                yield where, message


def messages_in(source: str, names: frozenset[str] = frozenset()) -> list[str]:
    r"""The messages of one file, in the order in which they are written.

    >>> messages_in('f"{n} pairs are {how}." if n != 1 else "One pair."')
    ['%(n)s pairs are %(how)s.', 'One pair.']
    >>> messages_in('f"It {\'was\' if once else \'is\'} low, {counted(n_low, \'time\')}."')
    ['It was low, %(n_low)s.', 'It is low, %(n_low)s.', '%(number)s time', '%(number)s times']
    """
    reader = _Reader()
    for statement in ast.parse(source).body:
        if not names or names & set(_defined(statement)):
            reader.visit(statement)
    return [message for message in reader.found if _is_prose(message)]


def _defined(statement: ast.stmt) -> list[str]:
    if isinstance(statement, ast.ClassDef):
        return [statement.name]
    targets = [statement.target] if isinstance(statement, ast.AnnAssign) else getattr(statement, "targets", [])
    return [target.id for target in targets if isinstance(target, ast.Name)]


class _Reader(ast.NodeVisitor):
    """Walks through a file and leaves out what is documentation, a name, or an annotation."""

    def __init__(self) -> None:
        self.found: list[str] = []

    def visit_Constant(self, node: ast.Constant) -> None:
        if isinstance(node.value, str):
            # A percent sign is doubled, as in every message that has holes.
            self.found += [_filled(line.replace("%", "%%").strip()) for line in node.value.split("\n")]

    def visit_JoinedStr(self, node: ast.JoinedStr) -> None:
        ways = [_ways(part) for part in node.values]
        self.found += [_named(parts) for parts in list(product(*ways))[:_MOST_WAYS]]
        for part in node.values:
            if isinstance(part, ast.FormattedValue) and len(_ways(part)) == 1:
                self.visit(part.value)

    def visit_Call(self, node: ast.Call) -> None:
        match node:
            case ast.Call(func=ast.Name(id="counted"), args=[_, ast.Constant(value=str(what)), *_]):
                self.found += [f"%(number)s {what}", f"%(number)s {what}s"]
            case _:
                self.generic_visit(node)

    def visit_Expr(self, node: ast.Expr) -> None:
        if not isinstance(node.value, ast.Constant):
            self.generic_visit(node)

    def visit_AnnAssign(self, node: ast.AnnAssign) -> None:
        if node.value is not None:
            self.visit(node.value)

    def visit_Dict(self, node: ast.Dict) -> None:
        for value in node.values:
            self.visit(value)

    def visit_Subscript(self, node: ast.Subscript) -> None:
        self.visit(node.value)

    def visit_Compare(self, node: ast.Compare) -> None:
        pass

    def visit_arg(self, node: ast.arg) -> None:
        pass


def _filled(text: str) -> str:
    """A text for `str.format` with its hole as messages have them."""
    return text.replace("{}", "%(value)s")


def _ways(part: ast.expr) -> Sequence[str]:
    """What may stand in one place of an f-string: its text, each of two texts, or a hole."""
    if isinstance(part, ast.Constant):
        return [str(part.value).replace("%", "%%")]
    value = part.value if isinstance(part, ast.FormattedValue) else part
    if isinstance(value, ast.IfExp):
        ends = (value.body, value.orelse)
        if all(isinstance(end, ast.Constant) and isinstance(end.value, str) for end in ends):
            return [str(end.value).replace("%", "%%") for end in ends if isinstance(end, ast.Constant)]
    return [f"%({_name_of(value)})s"]


def _name_of(value: ast.expr) -> str:
    """What a hole is called: the innermost name of what stands in it."""
    if isinstance(value, ast.Call) and isinstance(value.func, ast.Name) and value.func.id == "counted":
        return _name_of(value.args[0])
    names = [node.attr for node in ast.walk(value) if isinstance(node, ast.Attribute)]
    names = [name for name in names if name not in ("join", "partition", "astype")]
    keys = [node.value for node in ast.walk(value) if isinstance(node, ast.Constant) and isinstance(node.value, str)]
    keys = [key for key in keys if key.isidentifier()]
    plain = [node.id for node in ast.walk(value) if isinstance(node, ast.Name) and node.id not in ("label", "int")]
    best = (names or keys or plain[::-1] or ["value"])[0]
    return best.strip("_").lower()


def _named(parts: Sequence[str]) -> str:
    """The parts as one message; a name that comes again gets a number."""
    seen: dict[str, int] = {}
    said = []
    for part in parts:
        if part.startswith("%(") and part.endswith(")s"):
            seen[part] = seen.get(part, 0) + 1
            said.append(part if seen[part] == 1 else f"{part[:-2]}_{seen[part]})s")
        else:
            said.append(part)
    return "".join(said).strip()


def _is_prose(message: str) -> bool:
    text = re.sub(r"%\(\w+\)s", " ", message)
    return bool(_WORDS.search(text)) and not _NO_PROSE.search(text.strip())
