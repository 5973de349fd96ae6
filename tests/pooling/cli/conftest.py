"""A command line as a member has it: no terminal, 80 columns, no colour, a folder of their own."""

import json
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from pooling.cli.main import main
from pooling.simulate import single_wear


@dataclass(frozen=True)
class Ended:
    """How a command ended and what it said where."""

    code: int
    out: str
    err: str

    @property
    def json(self) -> Any:
        return json.loads(self.out)


@pytest.fixture
def commonwear(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> Callable[..., Ended]:
    """Run one command in this process."""
    for name in ("COLUMNS", "FORCE_COLOR", "COMMONWEAR_TOKEN", "COMMONWEAR_SERVER"):
        monkeypatch.delenv(name, raising=False)

    def run(*words: object) -> Ended:
        capsys.readouterr()
        code = main([str(word) for word in words])
        said = capsys.readouterr()
        return Ended(code, said.out, said.err)

    return run


@pytest.fixture
def write(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[..., Path]:
    """A record, or bytes, as a file of the folder that the command runs in."""
    monkeypatch.chdir(tmp_path)

    def to(content: Any, name: str = "wear.json") -> Path:
        path = Path(name)
        path.write_bytes(content if isinstance(content, bytes) else json.dumps(content).encode())
        return path

    return to


@pytest.fixture
def wear() -> dict[str, Any]:
    """A well-kept wear without anything odd, of the invented community."""
    return single_wear(np.random.default_rng(3), "thigh.front", "demo-a14", n_pairs=40)
