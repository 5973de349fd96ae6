"""Calls to the service: patient where waiting helps, plain about what it refused, and never to any other address."""

import re
import secrets
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime
from email.utils import parsedate_to_datetime
from http import HTTPStatus
from ipaddress import ip_address
from typing import Any

import httpx

from pooling.cli.exits import Exit, Stop

TIMEOUT = httpx.Timeout(30, connect=10)
# Passing troubles: waiting and sending the same again may well succeed.
PASSING = frozenset(
    {
        HTTPStatus.TOO_MANY_REQUESTS,
        HTTPStatus.BAD_GATEWAY,
        HTTPStatus.SERVICE_UNAVAILABLE,
        HTTPStatus.GATEWAY_TIMEOUT,
    }
)
IN_FLIGHT = "in-flight"


class Refused(Stop):
    """The server refused: its problem details (RFC 9457), with the place of each fault (RFC 6901)."""

    def __init__(self, code: Exit, message: str, problem: Mapping[str, Any]) -> None:
        super().__init__(code, message)
        self.problem = problem
        self.faults = [(fault["pointer"], fault["message"]) for fault in problem.get("faults", ())]


@dataclass(frozen=True, slots=True)
class Patience:
    """How often to try and how long to wait in between: twice as long each time, or as long as the server says.

    Waits are drawn between half and all of their length, so that many devices do not come back at the same moment.
    """

    tries: int = 5
    first_wait_s: float = 1.0
    longest_wait_s: float = 120.0
    sleep: Callable[[float], None] = time.sleep
    now: Callable[[], datetime] = lambda: datetime.now(UTC)
    draw: Callable[[], float] = field(default=secrets.SystemRandom().random)

    def wait_s(self, n_tried: int, retry_after: str | None) -> float:
        """Seconds until the next try; never sooner than the server asked."""
        drawn = self.first_wait_s * 2 ** (n_tried - 1) * (0.5 + 0.5 * self.draw())
        return max(drawn, self._asked_s(retry_after))

    def _asked_s(self, retry_after: str | None) -> float:
        """`Retry-After` is a number of seconds or a date (RFC 9110, section 10.2.3); anything else is passed over."""
        if retry_after is None:
            return 0.0
        if retry_after.strip().isdigit():
            return float(retry_after)
        try:
            return (parsedate_to_datetime(retry_after) - self.now()).total_seconds()
        except (ValueError, TypeError):
            return 0.0


def service_address(typed: str) -> str:
    """The address of a service as it was typed, in one form.

    Raises
    ------
    Stop
        If it is no address, carries a name or password, or would send a token in the clear.

    Examples
    --------
    >>> service_address("pool.example"), service_address("http://localhost:8000/")
    ('https://pool.example', 'http://localhost:8000')
    """
    try:
        url = httpx.URL(typed if "://" in typed else f"https://{typed}")
    except httpx.InvalidURL:
        url = httpx.URL()
    if url.scheme not in {"http", "https"} or not url.host or url.path != "/" or url.query or url.fragment:
        raise Stop(Exit.USAGE, "The server is named by its address alone, such as https://pool.example")
    if url.userinfo:
        raise Stop(Exit.USAGE, "The address of the server holds a name or password; leave it out and use --sign-in.")
    if url.scheme == "http" and not _is_loopback(url.host):
        raise Stop(Exit.USAGE, "Anybody on the way could read what goes to an http:// address; use its https:// one.")
    return str(url).rstrip("/")


def _is_loopback(host: str) -> bool:
    try:
        return ip_address(host).is_loopback
    except ValueError:
        return host == "localhost"


class Service:
    """One service, for one or several calls; use it in a `with` block."""

    def __init__(
        self,
        address: str,
        *,
        note: Callable[[str], None],
        patience: Patience | None = None,
        transport: httpx.BaseTransport | None = None,
    ) -> None:
        self.address = address
        self._note, self._patience = note, patience or Patience()
        self._client = httpx.Client(base_url=f"{address}/api/v1/", timeout=TIMEOUT, transport=transport)

    def __enter__(self) -> "Service":
        return self

    def __exit__(self, *_ended: object) -> None:
        self._client.close()

    def call(self, method: str, path: str, *, token: str | None = None, **request: Any) -> dict[str, Any]:
        """The JSON body of the answer, empty where there is none.

        Raises
        ------
        Refused
            When the server refuses.
        Stop
            When it cannot be reached, is too busy, or is no such service.
        """
        headers = dict(request.pop("headers", {}))
        if token:
            headers["Authorization"] = f"Bearer {token}"
        for n_tried in range(1, self._patience.tries + 1):
            last = n_tried == self._patience.tries
            try:
                response = self._client.request(method, path, headers=headers, **request)
            except httpx.TransportError as error:
                trouble, retry_after = f"{self.address} cannot be reached ({_reason(error)}).", None
            else:
                if token and response.status_code == HTTPStatus.UNAUTHORIZED:
                    raise Stop(Exit.SIGN_IN, f"Your sign-in at {self.address} has ended. Add --sign-in for a new one.")
                if not _is_passing(response):
                    return self._answer(response)
                trouble, retry_after = f"{self.address} is busy ({response.status_code}).", _retry_after(response)
            self._wait(trouble, n_tried, retry_after, last=last)
        raise AssertionError("the last try either answers or stops")

    def _wait(self, trouble: str, n_tried: int, retry_after: str | None, *, last: bool) -> None:
        wait_s = self._patience.wait_s(n_tried, retry_after)
        if last or wait_s > self._patience.longest_wait_s:
            later = "Check the address and the connection, and try again later."
            if wait_s > self._patience.longest_wait_s:
                later = f"Try again in {-(-wait_s // 60):.0f} minutes."
            raise Stop(Exit.UNREACHABLE, f"{trouble} {later}")
        self._note(f"{trouble} Trying again in {max(wait_s, 1):.0f} s.")
        self._patience.sleep(wait_s)

    def _answer(self, response: httpx.Response) -> dict[str, Any]:
        if response.is_redirect:
            elsewhere = response.headers.get("Location", "elsewhere")
            raise Stop(Exit.REFUSED, f"{self.address} sends on to {elsewhere}; if you trust that, give that address.")
        content = _json(response)
        if response.is_success and (content is not None or not response.content):
            return content or {}
        if content is None or "detail" not in content:
            raise Stop(
                _code(response), f"{self.address} answered {response.status_code}, but not as this service does."
            )
        raise Refused(_code(response), f"{content.get('title', 'Refused')}: {content['detail']}", content)


def _code(response: httpx.Response) -> Exit:
    if response.status_code == HTTPStatus.UNAUTHORIZED:
        return Exit.SIGN_IN
    return Exit.UNREACHABLE if response.is_server_error else Exit.REFUSED


def _is_passing(response: httpx.Response) -> bool:
    if response.status_code == HTTPStatus.CONFLICT:
        return (_json(response) or {}).get("code") == IN_FLIGHT
    return response.status_code in PASSING


def _retry_after(response: httpx.Response) -> str | None:
    return response.headers.get("Retry-After")


def _json(response: httpx.Response) -> dict[str, Any] | None:
    try:
        content = response.json()
    except ValueError:
        return None
    return content if isinstance(content, dict) else None


def _reason(error: httpx.TransportError) -> str:
    """The system's words, without its numbers."""
    if isinstance(error, httpx.TimeoutException):
        return "it does not answer in time"
    return re.sub(r"^\[[^\]]*\] ", "", str(error)) or "no connection"
