import sys
import time

from server.core.supervision import Part, Supervisor

FOREVER = [sys.executable, "-c", "import time; time.sleep(600)"]
STUBBORN = [
    sys.executable,
    "-c",
    "import signal, time; signal.signal(signal.SIGTERM, signal.SIG_IGN); print('deaf', flush=True); time.sleep(600)",
]


def end(part: Part) -> None:
    part.ask_to_stop()
    part.stop_by(time.monotonic() + 30)


def test_a_part_that_dies_is_started_again():
    part = Part("sleeper", FOREVER)
    part.start()
    first = part.process
    assert not part.restart_if_dead()
    first.kill()
    first.wait()
    while not part.restart_if_dead():
        time.sleep(0.02)
    assert part.alive
    assert part.process.pid != first.pid
    end(part)
    assert not part.alive


def test_the_pause_grows_while_a_part_dies_at_once():
    part = Part("dying", [sys.executable, "-c", ""])
    part.start()
    pauses = []
    for _ in range(2):
        part.process.wait()
        while not part.restart_if_dead():
            time.sleep(0.02)
        pauses.append(part._pause_s)
    part.process.wait()
    assert pauses[0] < pauses[1] <= 10


def test_a_part_that_does_not_listen_is_ended_by_force():
    part = Part("stubborn", STUBBORN)
    part.start()
    part.ask_to_stop()
    part.stop_by(time.monotonic() + 0.1)
    assert not part.alive
    assert part.process.returncode < 0


def test_others_wait_for_the_first_and_all_are_stopped():
    asked = iter([False, True])
    said = []
    parts = [Part("first", FOREVER), Part("other", FOREVER)]
    supervisor = Supervisor(first=parts[:1], usable=lambda: next(asked), others=parts[1:], say=said.append)

    def when_ready() -> None:
        said.append("ready")
        assert all(part.alive for part in parts)
        supervisor.stopping.set()

    supervisor.run(when_ready=when_ready, ready=lambda: True)
    assert said == ["ready"]
    assert not any(part.alive for part in parts)
