"""Members and a moderator who do not give up: a request without an answer is sent again, under the same key."""

import itertools
import json
import threading
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any

import httpx

from tests.faults.steward import GROUP

PATIENCE_S = 300
PAUSE_S = 0.1
DRAFTS = f"/api/v1/groups/{GROUP}/drafts/"


class GaveUp(RuntimeError):
    """A request that was never answered as it should be."""


@dataclass
class Caller:
    """Speaks to any of the addresses, in turn, until one gives an answer that ends the matter."""

    addresses: Sequence[str]
    n_again: int = 0
    client: httpx.Client = field(default_factory=lambda: httpx.Client(timeout=60, verify=False))
    _turn: Any = field(default_factory=itertools.count)

    def call(self, method: str, path: str, *, token: str, **given: Any) -> httpx.Response:
        headers = {"Authorization": f"Bearer {token}", **given.pop("headers", {})}
        deadline = time.monotonic() + PATIENCE_S
        while True:
            address = self.addresses[next(self._turn) % len(self.addresses)]
            try:
                answer = self.client.request(method, address + path, headers=headers, **given)
                if answer.status_code < 500 and answer.status_code != 429 and not _is_at_work(answer):
                    return answer
                said = f"{answer.status_code} {answer.text[:300]}"
            except httpx.TransportError as fault:
                said = type(fault).__name__
            if time.monotonic() > deadline:
                raise GaveUp(f"{method} {path}: {said}")
            self.n_again += 1
            time.sleep(PAUSE_S)


def _is_at_work(answer: httpx.Response) -> bool:
    return answer.status_code == 409 and answer.json().get("code") == "in-flight"


@dataclass(frozen=True)
class Upload:
    """One wear to be given to the group, under a key that stays the same however often it is sent."""

    key: str
    member: str
    record: dict[str, Any]

    def send(self, caller: Caller, token: str) -> str:
        """Upload it and give it; the id that was acknowledged."""
        body, headers = json.dumps(self.record).encode(), {"Idempotency-Key": self.key}
        headers["Content-Type"] = "application/json"
        kept = caller.call("POST", "/api/v1/wears/", token=token, content=body, headers=headers)
        if kept.status_code != 201:
            raise GaveUp(f"upload {self.key}: {kept.status_code} {kept.text[:600]}")
        wear: str = kept.json()["id"]
        given = caller.call("PUT", f"/api/v1/wears/{wear}/group/", token=token, json={"group": GROUP})
        if given.status_code != 200:
            raise GaveUp(f"giving {self.key}: {given.status_code} {given.text[:600]}")
        return wear


def send_all(
    uploads: Sequence[Upload],
    caller: Caller,
    tokens: dict[str, str],
    *,
    n_at_once: int,
    before: Callable[[int], None] = lambda _: None,
) -> dict[str, str]:
    """Every upload, several at once; `before` is told of each one's number. The acknowledged id of each key."""
    acknowledged: dict[str, str] = {}
    faults: list[BaseException] = []
    waiting = iter(list(enumerate(uploads)))
    lock = threading.Lock()

    def work() -> None:
        try:
            while not faults:
                with lock:
                    number, upload = next(waiting, (-1, None))
                if upload is None:
                    return
                before(number)
                acknowledged[upload.key] = upload.send(caller, tokens[upload.member])
        except BaseException as fault:  # noqa: BLE001 (told by whoever waits for the threads)
            faults.append(fault)

    threads = [threading.Thread(target=work) for _ in range(n_at_once)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    if faults:
        raise faults[0]
    return acknowledged


@dataclass
class Moderator:
    """Has the edition of each cut-off drafted and publishes it."""

    caller: Caller
    token: str

    def publish(self, slot: int) -> str:
        """Draft, wait, publish; the SHA-256 of the edition that stands at its address."""
        address = self.drafted(slot)
        draft = self.finished(address)
        if draft["state"] == "ready":
            # Where the answer was lost, the second try is told that it is published.
            self.caller.call("POST", f"{address}publish/", token=self.token, json={})
        elif draft["state"] != "published":
            raise GaveUp(f"the draft of {slot} ended as {draft['state']}: {draft['reasons']}")
        answer = self.caller.call("GET", f"/api/v1/groups/{GROUP}/editions/{slot}/", token=self.token)
        if answer.status_code != 200:
            raise GaveUp(f"edition {slot}: {answer.status_code} {answer.text[:300]}")
        return answer.headers["ETag"].strip('"')

    def drafted(self, slot: int) -> str:
        """Start the draft of a slot, once its cut-off has passed; its address."""

        def start() -> str | None:
            self.caller.call("POST", DRAFTS, token=self.token, json={})  # 409 until the cut-off has passed
            live = [one for one in self._get(DRAFTS)["drafts"] if one["state"] != "discarded"]
            return next((one["id"] for one in live if one["number"] == slot), None)

        return f"{DRAFTS}{self._until(start, bool)}/"

    def finished(self, address: str) -> Any:
        """The draft, once nobody works at it any more."""
        return self._until(lambda: self._get(address), lambda told: told["state"] not in ("queued", "fitting"))

    def discard(self, address: str) -> None:
        self.caller.call("DELETE", address, token=self.token)

    def _get(self, path: str) -> Any:
        return self.caller.call("GET", path, token=self.token).json()

    def _until(self, look: Callable[[], Any], enough: Callable[[Any], bool]) -> Any:
        deadline = time.monotonic() + PATIENCE_S
        while not enough(found := look()):
            if time.monotonic() > deadline:
                raise GaveUp(f"waited {PATIENCE_S} s; the last answer was {found}")
            time.sleep(PAUSE_S)
        return found
