"""The proxy's configuration held to the nginx of this machine: read as in a container and as a unit, and started once.

    python -m tests.deploy.nginx

A command of its own, since the suite needs no system package. Ends with 0 where all holds, with 1 where something does
not, with 3 where there is no nginx.
"""

import http.client
import json
import re
import shlex
import shutil
import socket
import ssl
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Mapping
from contextlib import closing, contextmanager
from datetime import UTC, datetime, timedelta
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from threading import Thread

from cryptography import x509
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.serialization import Encoding, NoEncryption, PrivateFormat
from cryptography.x509.oid import NameOID

ROOT = Path(__file__).resolve().parents[2]
CONF = ROOT / "deploy/proxy/nginx.conf"
NAME = "pool.example"
MADE_UP = {"X-Forwarded-For": "203.0.113.9", "X-Forwarded-Host": "elsewhere.example", "Forwarded": "for=203.0.113.9"}
PATIENCE_S = 20
TOO_LONG_BYTES = 9 * 1024**2


def main() -> int:
    nginx = shutil.which("nginx") or shutil.which("nginx", path="/usr/sbin")
    if nginx is None:
        sys.stderr.write("There is no nginx here. On Debian: apt-get install --no-install-recommends nginx-light\n")
        return 3
    with tempfile.TemporaryDirectory() as name, upstream() as (service, seen):
        folder = Path(name)
        write_certificate(folder)
        for kind, said in {"container": as_in_a_container(), "unit": as_a_unit()}.items():
            ports = free_port(), free_port()
            (folder / "nginx.conf").write_text(moved(said, folder, ports, service.server_port), encoding="utf-8")
            command = [nginx, "-e", "stderr", "-p", name, "-c", str(folder / "nginx.conf")]
            read = subprocess.run([*command, "-t"], capture_output=True, text=True, check=False)
            if read.returncode:
                sys.stderr.write(f"{kind}: nginx does not take its configuration\n{read.stderr}")
                return 1
            with running(command, ports[1]):
                faults = [what for what, holds in looked_at(ports, seen).items() if not holds]
            sys.stdout.write(f"{kind}: {'; '.join(faults) or 'well'}\n")
            if faults:
                return 1
    return 0


def as_in_a_container() -> str:
    return CONF.read_text(encoding="utf-8")


def as_a_unit() -> str:
    """By the command that docs/OPERATIONS.md gives."""
    command = re.search(r"^sed (.*?) deploy/proxy/nginx\.conf >", _operations(), re.M | re.S)
    assert command, "docs/OPERATIONS.md has no command that writes the configuration of a bare machine"
    words = ["sed", *shlex.split(command[1].replace("\\\n", " ")), str(CONF)]
    return subprocess.run(words, capture_output=True, text=True, check=True).stdout


def _operations() -> str:
    return (ROOT / "docs/OPERATIONS.md").read_text(encoding="utf-8")


def moved(said: str, folder: Path, ports: tuple[int, int], service: int) -> str:
    """The same in a folder of its own, on ports that are free, before a service that is ours."""
    plain, secure = ports
    said = said.replace(" /tmp/", f" {folder}/")
    said = re.sub(r"listen (?:80|8080)\b", f"listen 127.0.0.1:{plain}", said)
    said = re.sub(r"listen (?:443|8443)\b", f"listen 127.0.0.1:{secure}", said)
    said = re.sub(r"server (?:web|127\.0\.0\.1):8000", f"server 127.0.0.1:{service}", said)
    return re.sub(r"/run/(?:secrets|credentials/commonwear-proxy\.service)/", f"{folder}/", said)


def looked_at(ports: tuple[int, int], seen: list[Mapping[str, str]]) -> dict[str, bool]:
    """What a visitor meets, and what of it comes to the service."""
    plain, secure = ports
    away = asked(plain, "/groups/", secure=False)
    page = asked(secure, "/", headers=MADE_UP)
    came = {name.lower(): value for name, value in seen[-1].items()} if seen else {}
    n_seen = len(seen)
    metrics, long = asked(secure, "/metrics"), asked(secure, "/api/v1/wears/", body=b"x" * TOO_LONG_BYTES)
    return {
        "plain HTTP is not sent to TLS": away[:2] == (308, f"https://{NAME}/groups/"),
        "a page does not come through": page[0] == 200,
        "an address that a client makes up is believed": came.get("x-forwarded-for") == "127.0.0.1",
        "headers that a client makes up come through": not {"forwarded", "x-forwarded-host"} & set(came),
        "the service is not told of TLS": came.get("x-forwarded-proto") == "https",
        "figures for monitoring are open": metrics[0] == 404 and len(seen) == n_seen,
        "a long body is not refused in the words of the API": long[0] == 413 and json.loads(long[2])["status"] == 413,
    }


def asked(
    port: int, path: str, *, secure: bool = True, headers: Mapping[str, str] | None = None, body: bytes | None = None
) -> tuple[int, str, bytes]:
    """Status, where it points, and body of an answer."""
    context = ssl._create_unverified_context()  # (a certificate of our own)
    line = (
        http.client.HTTPSConnection("127.0.0.1", port, timeout=PATIENCE_S, context=context)
        if secure
        else http.client.HTTPConnection("127.0.0.1", port, timeout=PATIENCE_S)
    )
    with closing(line):
        # Of a body that is too long nginx reads nothing: what it says comes while the rest is still on its way.
        line.putrequest("GET" if body is None else "POST", path, skip_host=True)
        for name, value in {"Host": NAME, **(headers or {})}.items():
            line.putheader(name, value)
        if body is not None:
            line.putheader("Content-Length", str(len(body)))
        line.endheaders()
        answer = line.getresponse()
        return answer.status, answer.getheader("Location", ""), answer.read()


@contextmanager
def running(command: list[str], port: int) -> Iterator[None]:
    proxy = subprocess.Popen([*command, "-g", "daemon off;"])
    try:
        deadline = time.monotonic() + PATIENCE_S
        while not answers(port):
            if proxy.poll() is not None or time.monotonic() > deadline:
                raise SystemExit("nginx did not start; what it says stands above")
            time.sleep(0.1)
        yield
    finally:
        proxy.terminate()
        proxy.wait(PATIENCE_S)


def answers(port: int) -> bool:
    with socket.socket() as probe:
        return probe.connect_ex(("127.0.0.1", port)) == 0


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@contextmanager
def upstream() -> Iterator[tuple[ThreadingHTTPServer, list[Mapping[str, str]]]]:
    """A service that answers everything, and the headers that came to it."""
    seen: list[Mapping[str, str]] = []

    class Answers(BaseHTTPRequestHandler):
        protocol_version = "HTTP/1.1"

        def do_GET(self) -> None:
            seen.append(dict(self.headers))
            self.send_response(200)
            self.send_header("Content-Length", "0")
            self.end_headers()

        def log_message(self, *_: object) -> None:
            pass

    service = ThreadingHTTPServer(("127.0.0.1", 0), Answers)
    Thread(target=service.serve_forever, daemon=True).start()
    try:
        yield service, seen
    finally:
        service.shutdown()
        service.server_close()


def write_certificate(folder: Path) -> None:
    """Certificate and key, under the names that container and unit have for them."""
    key, now = ec.generate_private_key(ec.SECP256R1()), datetime.now(UTC)
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, NAME)])
    made = x509.CertificateBuilder(name, name, key.public_key(), x509.random_serial_number(), now, now + timedelta(1))
    (folder / "certificate").write_bytes(made.sign(key, SHA256()).public_bytes(Encoding.PEM))
    (folder / "certificate_key").write_bytes(key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption()))


if __name__ == "__main__":
    sys.exit(main())
