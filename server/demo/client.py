"""The demo's own visitor: plain HTTP to the service on loopback, as any member's program would speak."""

import json
import secrets
import time
import urllib.error
import urllib.request
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, TypeVar

T = TypeVar("T")
POLL_S = 0.25
PATIENCE_S = 300


class Unexpected(RuntimeError):
    """The service answered otherwise than the demo may rely on."""


@dataclass(frozen=True, slots=True)
class Answer:
    status: int
    content: bytes
    headers: dict[str, str]

    @property
    def json(self) -> Any:
        return json.loads(self.content)


@dataclass(frozen=True, slots=True)
class Visitor:
    """Somebody at the address, signed in or not."""

    address: str
    token: str | None = None

    def call(self, method: str, path: str, body: Any = None, *, expect: int | None = None) -> Answer:
        headers = {"Accept": "*/*"}
        if self.token:
            headers["Authorization"] = f"Bearer {self.token}"
        data = None
        if body is not None:
            data = body if isinstance(body, bytes) else json.dumps(body).encode()
            headers["Content-Type"] = "application/json"
        if method == "POST":
            headers["Idempotency-Key"] = secrets.token_hex(16)
        request = urllib.request.Request(self.address + path, data, headers, method=method)  # noqa: S310
        try:
            with urllib.request.urlopen(request, timeout=60) as response:  # noqa: S310  (the demo)  # nosec B310
                answer = Answer(response.status, response.read(), dict(response.headers))
        except urllib.error.HTTPError as error:
            answer = Answer(error.code, error.read(), dict(error.headers))
        if expect is not None and answer.status != expect:
            raise Unexpected(f"{method} {path}: {answer.status} instead of {expect}: {answer.content[:400]!r}")
        return answer

    def get(self, path: str, *, expect: int | None = 200) -> Answer:
        return self.call("GET", path, expect=expect)

    def post(self, path: str, body: Any = None, *, expect: int | None = 201) -> Answer:
        return self.call("POST", path, {} if body is None else body, expect=expect)

    def put(self, path: str, body: Any = None, *, expect: int | None = 200) -> Answer:
        return self.call("PUT", path, {} if body is None else body, expect=expect)

    def signed_in(self, sign_in_name: str, password: str) -> "Visitor":
        answer = self.post("/api/v1/tokens/", {"sign_in_name": sign_in_name, "password": password}, expect=201)
        return Visitor(self.address, answer.json["token"])


def wait_for(what: str, look: Callable[[], T | None], *, moved: Callable[[], object] = lambda: None) -> T:
    """Ask again until there is an answer; give up with a clear word when something must have broken.

    That is when nothing has `moved` for so long: a slow machine takes its time.
    """
    deadline, known = time.monotonic() + PATIENCE_S, moved()
    while time.monotonic() < deadline:
        found = look()
        if found is not None:
            return found
        if (now := moved()) != known:
            deadline, known = time.monotonic() + PATIENCE_S, now
        time.sleep(POLL_S)
    raise Unexpected(f"waited {PATIENCE_S} seconds for {what}, and nothing moved")
