"""What the house tests look at: the project's own files, found by name and not by version control."""

from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
CODE = ("pooling", "server")
MADE = {"__pycache__", "static_built", "build", "dist", "var", "test-artefacts"}


def files(*places: str, suffixes: tuple[str, ...] = (".py",)) -> Iterator[Path]:
    """Files below these top-level places, by path, without what programs make."""
    for place in places:
        for path in sorted((ROOT / place).rglob("*")):
            inside = path.relative_to(ROOT)
            if path.is_file() and path.suffix in suffixes and not MADE & set(inside.parts):
                yield path


def name_of(path: Path) -> str:
    return path.relative_to(ROOT).as_posix()
