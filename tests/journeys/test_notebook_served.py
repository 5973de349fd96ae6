"""The notebook as a server hands it out: over TLS, its files under hashed names. It works without network, and follows
an upgrade."""

import ipaddress
import os
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec

from tests.faults.machines import free_port
from tests.journeys.conftest import CHROMIUM, OPTIONS
from tests.journeys.test_notebook import KEPT, NOTES, PAIRS, begin, note_pair

pytestmark = pytest.mark.browser
ROOT = Path(__file__).resolve().parents[2]
HASHED = r"/static/web/page\.[0-9a-f]{12}\.css"
TRIES, PAUSE_MS = 300, 100


@dataclass(frozen=True)
class Place:
    """A copy of the program that can be changed, with data, a certificate and an address of its own."""

    tree: Path
    certificate: Path
    key: Path
    port: int

    @property
    def address(self) -> str:
        return f"https://127.0.0.1:{self.port}"

    @property
    def environment(self) -> dict[str, str]:
        kept = {name: value for name, value in os.environ.items() if name not in ("DATABASE_URL", "REDIS_URL")}
        return kept | {"COMMONWEAR_DATA_DIR": str(self.tree / "data"), "DJANGO_SETTINGS_MODULE": "server.settings"}

    def run(self, *words: str) -> None:
        command = [sys.executable, "-m", "server", *words]
        subprocess.run(command, cwd=self.tree, env=self.environment, check=True, capture_output=True)

    @contextmanager
    def served(self) -> Iterator[None]:
        tls = ("--ssl-certificate", str(self.certificate), "--ssl-keyfile", str(self.key))
        at = ("--interface", "wsgi", "--port", str(self.port), *tls, "server.wsgi:application")
        process = subprocess.Popen([sys.executable, "-m", "granian", *at], cwd=self.tree, env=self.environment)
        try:
            yield
        finally:
            process.terminate()
            process.wait(timeout=60)


def self_signed(folder: Path) -> tuple[Path, Path]:
    key, name = ec.generate_private_key(ec.SECP256R1()), x509.Name([])
    today = datetime.now(UTC)
    certificate = (
        x509.CertificateBuilder(name, name, key.public_key(), x509.random_serial_number())
        .not_valid_before(today - timedelta(days=1))
        .not_valid_after(today + timedelta(days=2))
        .add_extension(x509.SubjectAlternativeName([x509.IPAddress(ipaddress.ip_address("127.0.0.1"))]), critical=True)
        .sign(key, hashes.SHA256())
    )
    files = folder / "certificate.pem", folder / "key.pem"
    files[0].write_bytes(certificate.public_bytes(serialization.Encoding.PEM))
    form = (serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption())
    files[1].write_bytes(key.private_bytes(*form))
    return files


@pytest.fixture
def place(tmp_path) -> Place:
    tree = tmp_path / "tree"
    for package in ("server", "pooling"):
        shutil.copytree(ROOT / package, tree / package, ignore=shutil.ignore_patterns("__pycache__", "static_built"))
    made = Place(tree, *self_signed(tmp_path), free_port())
    made.run("migrate", "--verbosity", "0")
    made.run("collectstatic", "--no-input", "--verbosity", "0")
    return made


@pytest.fixture
def page(browser):
    """A browser that takes the certificate for good; a worker is installed from such a server alone."""
    trusting = browser.browser_type.launch(executable_path=CHROMIUM, args=[*OPTIONS, "--ignore-certificate-errors"])
    page = trusting.new_page()
    yield page
    trusting.close()


def until(page, answers: Callable[[], bool]) -> None:
    for _ in range(TRIES):
        if answers():
            return
        page.wait_for_timeout(PAUSE_MS)
    pytest.fail("it never came to that")


def is_up(page, place) -> bool:
    try:
        return page.request.get(f"{place.address}/health/live", ignore_https_errors=True).ok
    except Exception:  # noqa: BLE001  (nobody listens yet)
        return False


def style_sheet(page) -> str:
    return page.locator('link[rel=stylesheet][href*="/page."]').get_attribute("href")


def changed(place, name: str, added: str) -> None:
    file = place.tree / "server/static/web" / name
    file.write_text(file.read_text(encoding="utf-8") + added, encoding="utf-8")


def test_it_installs_over_tls_works_without_a_server_and_follows_an_upgrade(place, page):
    with place.served():
        until(page, lambda: is_up(page, place))
        page.goto(f"{place.address}/notebook/en-gb/")
        page.get_by_text(KEPT).wait_for()
        begin(page)
        first = style_sheet(page)
    assert page.evaluate("async (at) => Boolean(await caches.match(at))", first)
    page.reload()  # nobody serves any more
    note_pair(page, *PAIRS[0])
    assert page.locator(NOTES).count() == 1
    assert page.evaluate("getComputedStyle(document.querySelector('.bar')).borderBottomStyle") == "solid"

    changed(place, "page.css", "\n.newer { color: inherit; }\n")
    changed(place, "device/notes.js", "\nexport const newer = true;\n")  # imported, so under its own name
    place.run("collectstatic", "--no-input", "--verbosity", "0")
    with place.served():
        until(page, lambda: is_up(page, place))
        page.reload()
        page.get_by_text("There is a newer notebook").wait_for()
        page.reload()
        second = style_sheet(page)
    assert second != first
    page.reload()  # nobody serves any more
    assert style_sheet(page) == second
    assert page.locator(NOTES).count() == 1
    assert page.evaluate("async () => (await import('/static/web/device/notes.js')).newer")
    assert len(page.evaluate("caches.keys()")) == 1
    assert not page.evaluate("async (at) => Boolean(await caches.match(at))", first)
