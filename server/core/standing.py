"""What stands while the service runs on one machine, and nothing but the standard library in it.

`up` prepares everything with Django, and then becomes this process: the same id, the same lock, a tenth of the memory.
It is told what to run in one word of JSON, which holds no secret: those stay in the environment.
"""

import json
import os
import socket
import sys
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import NoReturn, TextIO

from server.core.supervision import Part, Supervisor

PATIENCE_S = 5.0


@dataclass(frozen=True)
class Standing:
    """What is to run: where pages answer and under which name, the broker if it is ours, the command of each part."""

    host: str
    port: int
    visited_as: str
    broker: Sequence[str]
    broker_socket: str
    parts: Mapping[str, Sequence[str]]

    def take_over(self, environment: Mapping[str, str]) -> NoReturn:
        """Become the process that stands. What this one holds open and inheritable stays held."""
        words = [sys.executable, "-m", __name__, json.dumps(asdict(self))]
        os.execve(sys.executable, words, environment)  # noqa: S606 (ourselves)

    def run(self) -> None:
        """Until SIGTERM or SIGINT; each part is then asked to end, and waited for."""
        supervisor = Supervisor(
            first=[Part("broker", self.broker, quiet=True)] if self.broker else [],
            usable=lambda: not self.broker or answers_ping(self.broker_socket),
            others=[Part(name, command) for name, command in self.parts.items()],
            say=lambda line: _say(line, sys.stderr),
        )
        supervisor.run(
            ready=lambda: is_ready(self.host, self.port, self.visited_as),
            when_ready=lambda: _say(f"Commonwear answers at http://{self.host}:{self.port}/  (Ctrl-C stops it)"),
        )
        _say("Stopped.")


def answers_ping(path: str) -> bool:
    """Whether a broker answers at this socket."""
    try:
        with socket.socket(socket.AF_UNIX) as line:
            line.settimeout(PATIENCE_S)
            line.connect(path)
            line.sendall(b"PING\r\n")
            return line.recv(16).startswith(b"+PONG")
    except OSError:
        return False


def is_ready(host: str, port: int, visited_as: str) -> bool:
    """Whether the web process at this address says that it can serve; a client of the library would be more memory."""
    question = f"GET /health/ready HTTP/1.1\r\nHost: {visited_as}\r\nConnection: close\r\n\r\n"
    try:
        with socket.create_connection((host, port), PATIENCE_S) as line:
            line.sendall(question.encode("ascii"))
            return line.recv(64).startswith(b"HTTP/1.1 200 ")
    except OSError:
        return False


def _say(line: str, stream: TextIO | None = None) -> None:
    print(line, file=stream, flush=True)


if __name__ == "__main__":
    Standing(**json.loads(sys.argv[1])).run()
