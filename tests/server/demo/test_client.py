import json
import threading
from collections.abc import Iterator
from http.server import BaseHTTPRequestHandler, HTTPServer

import pytest

from server.demo import client
from server.demo.client import Unexpected, Visitor, wait_for


class _Echo(BaseHTTPRequestHandler):
    """Answers with what was asked; tokens are given to anybody."""

    def _answer(self) -> None:
        length = int(self.headers.get("Content-Length") or 0)
        body = json.loads(self.rfile.read(length) or b"null")
        said = {"method": self.command, "body": body, "bearer": self.headers.get("Authorization"), "token": "t0k"}
        content = json.dumps(said).encode()
        self.send_response(404 if "missing" in self.path else 201 if self.command == "POST" else 200)
        self.send_header("Content-Length", str(len(content)))
        self.end_headers()
        self.wfile.write(content)

    do_GET = do_POST = do_PUT = _answer  # noqa: N815

    def log_message(self, *_: object) -> None:
        pass


@pytest.fixture
def visitor() -> Iterator[Visitor]:
    server = HTTPServer(("127.0.0.1", 0), _Echo)
    thread = threading.Thread(target=server.serve_forever)
    thread.start()
    yield Visitor(f"http://127.0.0.1:{server.server_port}")
    server.shutdown()
    thread.join()
    server.server_close()


def test_a_visitor_signs_in_and_sends_the_token_from_then_on(visitor):
    member = visitor.signed_in("amber-boat-12345", "secret")
    assert member.get("/").json["bearer"] == "Bearer t0k"
    assert member.put("/x/", {"group": "harbour"}).json["body"] == {"group": "harbour"}


def test_an_answer_that_was_not_expected_is_said_and_not_passed_over(visitor):
    with pytest.raises(Unexpected, match="404 instead of 200"):
        visitor.get("/missing/")
    assert visitor.get("/missing/", expect=None).status == 404


def test_waiting_asks_until_there_is_an_answer(monkeypatch):
    answers = iter([None, None, "here"])
    monkeypatch.setattr(client, "POLL_S", 0)
    assert wait_for("it", lambda: next(answers)) == "here"


def test_waiting_ends(monkeypatch):
    monkeypatch.setattr(client, "PATIENCE_S", 0)
    with pytest.raises(Unexpected, match="waited 0 seconds for it"):
        wait_for("it", lambda: None)


def test_waiting_goes_on_while_something_moves(monkeypatch):
    now, done = iter(range(0, 1000, 2)), iter(range(10))
    monkeypatch.setattr(client, "POLL_S", 0)
    monkeypatch.setattr(client, "PATIENCE_S", 5)
    monkeypatch.setattr(client.time, "monotonic", lambda: next(now))
    answers = iter([None] * 8 + ["here"])
    assert wait_for("it", lambda: next(answers), moved=lambda: next(done)) == "here"
    with pytest.raises(Unexpected, match="nothing moved"):
        wait_for("it", lambda: None, moved=lambda: "still")
