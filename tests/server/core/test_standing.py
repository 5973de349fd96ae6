import json
import os
import signal
import socket
import subprocess
import sys
import threading
from contextlib import contextmanager
from pathlib import Path

import pytest

from server.core.standing import Standing, answers_ping, is_ready

HEAVY = {"django", "numpy", "celery", "redis", "server.settings"}
SLEEPER = [sys.executable, "-c", "import time; time.sleep(600)"]


@contextmanager
def one_answer(server, answer):
    """Somebody who hears one question and gives this answer; what was asked is in the list."""
    asked = []

    def hear():
        line, _ = server.accept()
        with line:
            asked.append(line.recv(1000))
            line.sendall(answer)

    thread = threading.Thread(target=hear)
    with server:
        server.listen()
        thread.start()
        yield asked
        thread.join()


@pytest.mark.parametrize(("answer", "usable"), [(b"+PONG\r\n", True), (b"-LOADING wait\r\n", False)])
def test_a_broker_is_usable_once_it_answers_a_ping(tmp_path, answer, usable):
    path = str(tmp_path / "socket")
    assert not answers_ping(path)
    server = socket.socket(socket.AF_UNIX)
    server.bind(path)
    with one_answer(server, answer) as asked:
        assert answers_ping(path) is usable
    assert asked == [b"PING\r\n"]


@pytest.mark.parametrize(("status", "ready"), [(b"200 OK", True), (b"503 Service Unavailable", False)])
def test_pages_are_ready_when_they_say_so_to_a_visitor(status, ready):
    server = socket.socket()
    server.bind(("127.0.0.1", 0))
    port = server.getsockname()[1]
    with one_answer(server, b"HTTP/1.1 " + status + b"\r\n\r\n{}") as asked:
        assert is_ready("127.0.0.1", port, "pool.example") is ready
    assert b"\r\nHost: pool.example\r\n" in asked[0]
    assert not is_ready("127.0.0.1", port, "pool.example")


def test_it_stands_without_what_its_parts_are_made_of():
    ask = f"import server.core.standing, sys; print({HEAVY!r} & set(sys.modules))"
    assert subprocess.run([sys.executable, "-c", ask], capture_output=True, text=True, check=True).stdout == "set()\n"


def test_the_process_becomes_it_keeps_its_id_and_ends_its_parts_when_it_is_told():
    standing = Standing("127.0.0.1", 1, "localhost", (), "", {"sleeper": SLEEPER})
    given = tuple(vars(standing).values())
    become = f"import os; from server.core.standing import Standing; Standing{given!r}.take_over(os.environ)"
    with subprocess.Popen([sys.executable, "-c", become], stdout=subprocess.PIPE) as process:
        place = Path(f"/proc/{process.pid}")
        while not (started := (place / "task" / place.name / "children").read_text().split()):
            assert process.poll() is None
        assert json.loads((place / "cmdline").read_text().split("\0")[3])["port"] == 1
        process.send_signal(signal.SIGTERM)
        assert process.stdout.read() == b"Stopped.\n"
    assert process.returncode == 0
    with pytest.raises(ProcessLookupError):
        os.kill(int(started[0]), 0)
