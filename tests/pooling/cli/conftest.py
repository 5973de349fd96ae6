"""A command line as a member has it: no terminal, 80 columns, no colour, a folder of their own."""

import json
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from typing import Any

import httpx
import keyring
import keyring.backends.fail
import numpy as np
import pytest
from keyring.backend import KeyringBackend
from keyring.errors import PasswordDeleteError

from pooling.cli.main import main
from pooling.cli.service import Patience, Service
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


class KeptTokens(KeyringBackend):
    """A keyring in memory, for one test."""

    priority = 1  # type: ignore[assignment]

    def __init__(self) -> None:
        super().__init__()
        self.kept: dict[tuple[str, str], str] = {}

    def get_password(self, service: str, username: str) -> str | None:
        return self.kept.get((service, username))

    def set_password(self, service: str, username: str, password: str) -> None:
        self.kept[service, username] = password

    def delete_password(self, service: str, username: str) -> None:
        if self.kept.pop((service, username), None) is None:
            raise PasswordDeleteError("no such token")


@pytest.fixture
def tokens_kept() -> Iterator[dict[tuple[str, str], str]]:
    """A system that keeps tokens."""
    before, kept = keyring.get_keyring(), KeptTokens()
    keyring.set_keyring(kept)
    yield kept.kept
    keyring.set_keyring(before)


@pytest.fixture
def no_keyring() -> Iterator[None]:
    """A system that keeps none."""
    before = keyring.get_keyring()
    keyring.set_keyring(keyring.backends.fail.Keyring())
    yield
    keyring.set_keyring(before)


@pytest.fixture
def typed(monkeypatch: pytest.MonkeyPatch) -> Callable[..., None]:
    """Answers of a person at a terminal, in order; those that are hidden among them."""

    def answers(*lines: str) -> None:
        left = iter(lines)
        monkeypatch.setattr("sys.stdin.isatty", lambda: True, raising=False)
        monkeypatch.setattr("builtins.input", lambda: next(left))
        monkeypatch.setattr("pooling.cli.terminal.getpass", lambda *_, **__: next(left))

    return answers


SERVER = "https://pool.example"


@dataclass
class Line:
    """The way to the service: to the real application in this process, unless it is told to break first.

    Each of `troubles` is met once, in order: an exception to raise before the request arrives, or after it was answered
    (`lost`), or an answer of something on the way.
    """

    application: Any
    troubles: list[Exception | httpx.Response] = field(default_factory=list)
    lost: list[Exception] = field(default_factory=list)
    requests: list[httpx.Request] = field(default_factory=list)
    waits_s: list[float] = field(default_factory=list)

    def handle(self, request: httpx.Request) -> httpx.Response:
        self.requests.append(request)
        if self.troubles:
            trouble = self.troubles.pop(0)
            if isinstance(trouble, Exception):
                raise trouble
            return trouble
        with _connection_kept():
            response = httpx.WSGITransport(app=self.application).handle_request(request)
            response.read()
            response.close()
        if self.lost:
            raise self.lost.pop(0)
        return response

    def posted(self) -> list[httpx.Request]:
        return [request for request in self.requests if request.url.path == "/api/v1/wears/"]


@contextmanager
def _connection_kept() -> Iterator[None]:
    """A request would end the connection that the test's transaction is on; the test client of Django does the same."""
    from django.core.signals import request_finished, request_started
    from django.db import close_old_connections

    signals = (request_started, request_finished)
    for signal in signals:
        signal.disconnect(close_old_connections)
    yield
    for signal in signals:
        signal.connect(close_old_connections)


@pytest.fixture
def line(db: None, settings: Any, monkeypatch: pytest.MonkeyPatch) -> Line:
    """The real service at `SERVER`, in this process; waits are noted and not waited for."""
    from server.wsgi import application

    settings.ALLOWED_HOSTS = [*settings.ALLOWED_HOSTS, httpx.URL(SERVER).host]
    way = Line(application)
    patience = Patience(sleep=way.waits_s.append, draw=lambda: 1.0)
    near = partial(Service, patience=patience, transport=httpx.MockTransport(way.handle))
    monkeypatch.setattr("pooling.cli.sending.Service", near)
    monkeypatch.setattr("pooling.cli.signing.Service", near)
    return way


@pytest.fixture
def sensor_model(db: None) -> str:
    """The model of `wear`, in the catalogue."""
    from server.core.models import SensorModel

    return str(SensorModel.objects.create(slug="demo-a14", rated_life_days=14, open=True).slug)
